//! Who can reach the port, and what that asks for.

use std::net::SocketAddr;

/// Who can reach the port.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exposure {
    /// Whoever is on this machine.
    Machine,
    /// Other machines, with TLS spoken here.
    OverTls,
    /// Other machines, by a proxy that speaks TLS with them.
    BehindProxy,
}

impl Exposure {
    /// Who can reach `address`, or why nobody may: from other machines keys would be read on the way.
    pub fn of(address: SocketAddr, over_tls: bool, behind_proxy: bool) -> Result<Self, String> {
        match (over_tls, behind_proxy) {
            (true, true) => {
                Err("`behind_proxy`: the proxy is to speak TLS, and `tls_certificate` has it spoken here: \
                                 one of them is taken"
                    .to_owned())
            }
            // A proxy on this machine lets others in as one elsewhere does.
            (false, true) => Ok(Self::BehindProxy),
            _ if address.ip().is_loopback() => Ok(Self::Machine),
            (true, false) => Ok(Self::OverTls),
            (false, false) => Err(format!(
                "{address} is reachable from other machines, which takes keys and TLS: set `tls_certificate` and \
                 `tls_key`, or `behind_proxy` where a proxy speaks TLS; or listen on a loopback address such as 127.0.0.1:8300"
            )),
        }
    }

    /// Whether there must be keys, given whether records are kept. Without records nothing is anybody's: there a proxy may
    /// say who calls.
    pub fn asks_for_keys(self, keeps_records: bool) -> bool {
        match self {
            Self::Machine => false,
            Self::OverTls => true,
            Self::BehindProxy => keeps_records,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn beyond_the_machine_there_is_tls_somewhere_and_keys_guard_records() {
        let address = |text: &str| text.parse::<SocketAddr>().unwrap();
        for here in ["127.0.0.1:8300", "127.0.0.9:1", "[::1]:8300"] {
            assert_eq!(Exposure::of(address(here), false, false), Ok(Exposure::Machine), "{here}");
            assert_eq!(Exposure::of(address(here), false, true), Ok(Exposure::BehindProxy), "{here}");
        }
        for beyond in ["0.0.0.0:8300", "[::]:8300", "192.0.2.1:8300"] {
            assert!(Exposure::of(address(beyond), false, false).unwrap_err().contains(beyond));
            let over_tls = Exposure::of(address(beyond), true, false).unwrap();
            let behind_proxy = Exposure::of(address(beyond), false, true).unwrap();
            assert!(over_tls.asks_for_keys(true) && over_tls.asks_for_keys(false));
            assert!(behind_proxy.asks_for_keys(true) && !behind_proxy.asks_for_keys(false));
        }
        assert!(Exposure::of(address("127.0.0.1:1"), true, true).is_err());
    }
}
