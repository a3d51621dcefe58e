//! How to reach the broker, and what to take from it.

use std::fmt;
use std::str::FromStr;

use crate::mapping::Mappings;

/// Where the broker is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Broker {
    /// Host name or address.
    pub host: String,
    /// Port.
    pub port: u16,
    /// Whether the connection is encrypted.
    pub security: Security,
}

/// Whether the connection is encrypted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Security {
    /// It is not: `mqtt://`.
    Plain,
    /// By TLS, with the broker's certificate checked: `mqtts://`.
    Tls,
}

impl FromStr for Broker {
    type Err = &'static str;

    fn from_str(url: &str) -> Result<Self, Self::Err> {
        let accepted = "mqtt://HOST[:PORT] or mqtts://HOST[:PORT]";
        let (scheme, rest) = url.split_once("://").ok_or(accepted)?;
        let (security, usual) = match scheme {
            "mqtt" => (Security::Plain, 1883),
            "mqtts" => (Security::Tls, 8883),
            _ => return Err(accepted),
        };
        if rest.contains('@') {
            return Err("a URL without user name and password, which have settings of their own");
        }
        let (host, port) = match rest.rsplit_once(':') {
            Some((host, port)) if !port.ends_with(']') => (host, port.parse().map_err(|_| accepted)?),
            _ => (rest, usual),
        };
        if host.is_empty() || host.contains(['/', '?', '#']) || port == 0 {
            return Err(accepted);
        }
        Ok(Self { host: host.to_owned(), port, security })
    }
}

/// Who we are to the broker.
#[derive(Clone, PartialEq, Eq)]
pub struct Credentials {
    /// User name.
    pub user_name: String,
    /// Password.
    pub password: String,
}

impl fmt::Debug for Credentials {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Credentials").finish_non_exhaustive()
    }
}

/// Everything there is to say of the subscription.
#[derive(Clone, Debug)]
pub struct Settings {
    /// Where the broker is.
    pub broker: Broker,
    /// Certificates, in PEM, of those who may vouch for the broker; the machine's own where not given.
    pub authorities: Option<Vec<u8>>,
    /// The name under which the broker keeps what is not acknowledged. Two replicas must not have the same one.
    pub client_id: String,
    /// Who we are.
    pub credentials: Option<Credentials>,
    /// How long the broker keeps messages for us while we are away, s.
    pub session_expiry_s: u32,
    /// Most messages that the broker sends before they are acknowledged.
    pub receive_maximum: u16,
    /// Those who subscribe under the same group share the messages.
    pub share_group: Option<String>,
    /// What to subscribe to, and how to read it.
    pub mappings: Mappings,
}

impl Settings {
    /// The topic filters, with the group where there is one.
    pub(crate) fn filters(&self) -> Vec<String> {
        let share = |filter: String| match &self.share_group {
            Some(group) => format!("$share/{group}/{filter}"),
            None => filter,
        };
        self.mappings.filters().map(share).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_url_tells_host_port_and_security() {
        for (url, host, port, security) in [
            ("mqtt://localhost", "localhost", 1883, Security::Plain),
            ("mqtts://broker.example", "broker.example", 8883, Security::Tls),
            ("mqtt://127.0.0.1:11883", "127.0.0.1", 11883, Security::Plain),
            ("mqtt://[::1]:1884", "[::1]", 1884, Security::Plain),
            ("mqtt://[::1]", "[::1]", 1883, Security::Plain),
        ] {
            assert_eq!(url.parse(), Ok(Broker { host: host.to_owned(), port, security }), "{url}");
        }
        for wrong in
            ["localhost", "http://x", "mqtt://", "mqtt://a:b@c", "mqtt://x:0", "mqtt://x:70000", "mqtt://x/y"]
        {
            assert!(wrong.parse::<Broker>().is_err(), "{wrong}");
        }
    }
}
