//! A setting in force, and who said so.

use std::fmt;

use clap::parser::ValueSource;
use clap::{Arg, ArgMatches, Command};

use crate::config::Mqtt;
use crate::config::file::File;

/// A setting in force.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Setting {
    /// Its key in the file.
    name: String,
    /// Its value; none where nothing says one.
    value: Option<String>,
    /// Who said so.
    origin: String,
    /// What it is for.
    about: String,
}

impl fmt::Display for Setting {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { name, value, origin, about } = self;
        match value {
            Some(value) => write!(f, "{name} = {value}\n    from {origin}")?,
            None => write!(f, "{name} is not set")?,
        }
        if about.is_empty() { Ok(()) } else { write!(f, "\n    {about}") }
    }
}

/// The settings of a command, in the order in which they are declared, those for MQTT last.
pub fn all(command: &Command, matches: &ArgMatches, file: Option<&File>) -> Vec<Setting> {
    let flags =
        command.get_arguments().filter(|flag| matches.try_contains_id(flag.get_id().as_str()).is_ok());
    let mut settings: Vec<Setting> = flags.map(|flag| setting(flag, matches, file)).collect();
    if let Some(file) = file
        && let Some(mqtt) = &file.mqtt
    {
        settings.extend(of_mqtt(mqtt, file));
    }
    settings
}

/// A flag's setting.
fn setting(flag: &Arg, matches: &ArgMatches, file: Option<&File>) -> Setting {
    let name = flag.get_id().as_str();
    let values = matches.get_raw(name).map(|values| {
        let values: Vec<_> = values.map(|value| value.to_string_lossy().into_owned()).collect();
        values.join(",")
    });
    // A flag whose value in the environment is not to be shown holds a secret.
    let value =
        if flag.is_hide_env_values_set() { values.map(|value| without_secrets(&value)) } else { values };
    let variable = flag.get_env().map(|variable| variable.to_string_lossy().into_owned());
    let origin = match matches.value_source(name) {
        Some(ValueSource::CommandLine) => format!("the flag --{}", flag.get_long().unwrap_or_default()),
        Some(ValueSource::EnvVariable) => format!("the environment, {}", variable.unwrap_or_default()),
        _ => file.and_then(|file| file.place(name)).unwrap_or_else(|| "the default".to_owned()),
    };
    let about = flag.get_help().map(ToString::to_string).unwrap_or_default();
    Setting { name: name.to_owned(), value, origin, about }
}

/// The settings of the table for MQTT, which holds no secret.
fn of_mqtt(mqtt: &Mqtt, file: &File) -> Vec<Setting> {
    let mut settings = Vec::new();
    if let Ok(table) = toml::Value::try_from(mqtt) {
        leaves("mqtt", &table, &mut |name, value| {
            let origin = file.place(name).unwrap_or_else(|| "the default".to_owned());
            let (name, value) = (name.to_owned(), Some(value.to_string()));
            settings.push(Setting { name, value, origin, about: String::new() });
        });
    }
    settings
}

/// Hands every value that holds no other to `tell`, with its path.
fn leaves(path: &str, value: &toml::Value, tell: &mut impl FnMut(&str, &toml::Value)) {
    match value {
        toml::Value::Table(table) => {
            for (key, value) in table {
                leaves(&format!("{path}.{key}"), value, tell);
            }
        }
        toml::Value::Array(items) if items.iter().any(toml::Value::is_table) => {
            for (index, item) in items.iter().enumerate() {
                leaves(&format!("{path}[{index}]"), item, tell);
            }
        }
        leaf => tell(path, leaf),
    }
}

/// A URL without the password in it, and without what stands behind its question mark.
fn without_secrets(url: &str) -> String {
    const HIDDEN: &str = "***";
    if url.starts_with("sqlite:") {
        return url.to_owned();
    }
    let Some((scheme, rest)) = url.split_once("://") else { return HIDDEN.to_owned() };
    let (rest, question) = rest.split_once('?').map_or((rest, ""), |(rest, _)| (rest, "?***"));
    match rest.rsplit_once('@') {
        Some((user, place)) => {
            let user = user.split_once(':').map_or(user.to_owned(), |(user, _)| format!("{user}:{HIDDEN}"));
            format!("{scheme}://{user}@{place}{question}")
        }
        None => format!("{scheme}://{rest}{question}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn passwords_are_not_shown() {
        for (url, shown) in [
            ("sqlite:records.db", "sqlite:records.db"),
            ("postgres://baycast@db/records", "postgres://baycast@db/records"),
            ("postgres://baycast:se@c:ret@db:5432/records", "postgres://baycast:***@db:5432/records"),
            ("postgres://db/records?password=secret", "postgres://db/records?***"),
            ("secret", "***"),
        ] {
            assert_eq!(without_secrets(url), shown);
        }
    }
}
