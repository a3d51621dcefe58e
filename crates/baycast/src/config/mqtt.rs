//! The table `[mqtt]` of the configuration file.

use std::path::PathBuf;

use baycast_mqtt::{Broker, Credentials, Mappings, Settings, Subscription};
use baycast_service::records::DELIVERIES_REMEMBERED;
use serde::{Deserialize, Serialize};

/// Longest client id, characters.
const LONGEST_ID: usize = 128;

/// A field and what is wrong with it.
pub type Fault = (String, String);

/// How to reach the broker, and what to subscribe to. No secret stands in it, only where to find one.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Table {
    /// `mqtt://HOST[:PORT]`, or `mqtts://` for TLS.
    broker: String,
    /// The name under which the broker keeps the session; one of its own for each replica.
    client_id: Option<String>,
    /// The environment variable that holds it.
    client_id_env: Option<String>,
    /// User name.
    user_name: Option<String>,
    /// The environment variable that holds it.
    user_name_env: Option<String>,
    /// The file that holds it.
    user_name_file: Option<PathBuf>,
    /// The environment variable that holds the password.
    password_env: Option<String>,
    /// The file that holds the password.
    password_file: Option<PathBuf>,
    /// Certificates, in PEM, of those who may vouch for the broker; the machine's own where not given.
    ca_file: Option<PathBuf>,
    /// How long the broker keeps messages while nobody is connected, s.
    #[serde(default = "a_week_s")]
    session_expiry_s: u32,
    /// Most messages on their way at once.
    #[serde(default = "usual_receive_maximum")]
    receive_maximum: u16,
    /// Replicas with the same group share the messages.
    share_group: Option<String>,
    /// What to subscribe to.
    #[serde(default)]
    subscription: Vec<Subscription>,
}

/// Seven days, s.
fn a_week_s() -> u32 {
    7 * 24 * 3600
}

/// Messages on their way at once.
fn usual_receive_maximum() -> u16 {
    64
}

impl Table {
    /// Checks everything that stands in the file itself.
    pub fn check(&self) -> Result<(), Fault> {
        self.broker().map(drop)?;
        if let Some(client_id) = &self.client_id {
            check_client_id(client_id)?;
        }
        if self.client_id.is_some() == self.client_id_env.is_some() {
            return Err(fault("client_id", "one of client_id and client_id_env is needed"));
        }
        let names = [self.user_name.is_some(), self.user_name_env.is_some(), self.user_name_file.is_some()];
        let passwords = [self.password_env.is_some(), self.password_file.is_some()];
        let (names, passwords) = (count(&names), count(&passwords));
        if names > 1 {
            return Err(fault(
                "user_name",
                "only one of user_name, user_name_env and user_name_file is taken",
            ));
        }
        if passwords > 1 {
            return Err(fault("password_env", "only one of password_env and password_file is taken"));
        }
        if names != passwords {
            return Err(fault("user_name", "a user name and a password, or neither, are taken"));
        }
        if self.session_expiry_s == 0 {
            return Err(fault("session_expiry_s", "0 given, at least 1 is taken"));
        }
        if !(1..=DELIVERIES_REMEMBERED).contains(&self.receive_maximum) {
            let reason = format!("{} given, 1 to {DELIVERIES_REMEMBERED} is taken", self.receive_maximum);
            return Err(fault("receive_maximum", &reason));
        }
        if let Some(group) = &self.share_group
            && (group.is_empty() || group.contains(['/', '+', '#']))
        {
            return Err(fault("share_group", "a name without /, + and # is taken"));
        }
        self.mappings().map(drop)
    }

    /// All settings, with what stands in the environment and in other files.
    pub fn settings(&self) -> Result<Settings, Fault> {
        let client_id = match &self.client_id_env {
            Some(variable) => variable_text("client_id_env", variable)?,
            None => self.client_id.clone().unwrap_or_default(),
        };
        check_client_id(&client_id)?;
        let user_name = match (&self.user_name, &self.user_name_env, &self.user_name_file) {
            (Some(user_name), _, _) => Some(user_name.clone()),
            (_, Some(variable), _) => Some(variable_text("user_name_env", variable)?),
            (_, _, Some(path)) => Some(file_text("user_name_file", path)?),
            (None, None, None) => None,
        };
        let password = match (&self.password_env, &self.password_file) {
            (Some(variable), _) => Some(variable_text("password_env", variable)?),
            (_, Some(path)) => Some(file_text("password_file", path)?),
            (None, None) => None,
        };
        Ok(Settings {
            broker: self.broker()?,
            authorities: self
                .ca_file
                .as_ref()
                .map(|path| std::fs::read(path).map_err(|error| unreadable("ca_file", path, &error)))
                .transpose()?,
            client_id,
            credentials: user_name
                .zip(password)
                .map(|(user_name, password)| Credentials { user_name, password }),
            session_expiry_s: self.session_expiry_s,
            receive_maximum: self.receive_maximum,
            share_group: self.share_group.clone(),
            mappings: self.mappings()?,
        })
    }

    /// Where the broker is. The URL is not quoted: it may hold a password that has no place there.
    fn broker(&self) -> Result<Broker, Fault> {
        self.broker.parse().map_err(|accepted| fault("broker", &format!("accepted: {accepted}")))
    }

    /// The subscriptions, checked.
    fn mappings(&self) -> Result<Mappings, Fault> {
        Mappings::new(self.subscription.clone()).map_err(|faults| {
            let told = |own: &baycast_mqtt::Fault| format!("{} given, accepted: {}", own.given, own.accepted);
            let first = &faults[0];
            let rest = faults[1..].iter().map(|own| format!("; `mqtt.{}`: {}", own.place, told(own)));
            (first.place.clone(), told(first) + &rest.collect::<String>())
        })
    }
}

/// How many are given.
fn count(given: &[bool]) -> usize {
    given.iter().filter(|given| **given).count()
}

/// A fault of a field.
fn fault(field: &str, reason: &str) -> Fault {
    (field.to_owned(), reason.to_owned())
}

/// A client id that every broker takes.
fn check_client_id(client_id: &str) -> Result<(), Fault> {
    if (1..=LONGEST_ID).contains(&client_id.chars().count()) && !client_id.chars().any(char::is_control) {
        return Ok(());
    }
    Err(fault(
        "client_id",
        &format!("1 to {LONGEST_ID} characters, none of them a control character, are taken"),
    ))
}

/// What a variable holds.
fn variable_text(field: &str, variable: &str) -> Result<String, Fault> {
    std::env::var(variable).map_err(|_| fault(field, &format!("the variable `{variable}` is not set")))
}

/// What a file holds, without the end of its line.
fn file_text(field: &str, path: &PathBuf) -> Result<String, Fault> {
    let text = std::fs::read_to_string(path).map_err(|error| unreadable(field, path, &error))?;
    Ok(text.trim_end_matches(['\r', '\n']).to_owned())
}

/// A file that can't be read.
fn unreadable(field: &str, path: &std::path::Path, error: &std::io::Error) -> Fault {
    fault(field, &format!("{}: {error}", path.display()))
}
