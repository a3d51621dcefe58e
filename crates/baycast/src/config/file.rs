//! The configuration file, read and checked.

use std::collections::BTreeMap;
use std::ffi::OsString;
use std::ops::Range;
use std::path::{Path, PathBuf};

use clap::{Arg, Args, Command};
use serde::Deserialize;
use toml::de::{DeTable, DeValue};

use crate::config::{FLAG, Mqtt};
use crate::serve;

/// The table that has no flags.
const MQTT: &str = "mqtt";

/// A configuration file whose every key is known and every value is taken.
#[derive(Debug)]
pub struct File {
    path: PathBuf,
    /// Values by the name of their setting.
    values: BTreeMap<String, Vec<OsString>>,
    /// The line of each key, by its path such as `mqtt.broker`.
    lines: BTreeMap<String, usize>,
    /// What there is to say of MQTT.
    pub mqtt: Option<Mqtt>,
}

/// The part of the file that is no flag's.
#[derive(Deserialize)]
struct Tables {
    mqtt: Option<Mqtt>,
}

impl File {
    /// Reads a file, or says what is wrong in it and where.
    pub fn read(path: &Path) -> Result<Self, String> {
        let text = std::fs::read_to_string(path).map_err(|error| format!("{}: {error}", path.display()))?;
        let at = |span: Range<usize>, reason: &str| {
            let (line, column) = place(&text, span.start);
            format!("{}:{line}:{column}: {reason}", path.display())
        };
        // The reader's own display quotes the line, which may hold a secret.
        let fault = |error: &toml::de::Error| at(error.span().unwrap_or_default(), error.message());
        let table = DeTable::parse(&text).map_err(|error| fault(&error))?;
        let flags = flags();
        let mut values = BTreeMap::new();
        for (key, value) in table.get_ref() {
            let name = key.get_ref().as_ref();
            if name == MQTT {
                continue;
            }
            let Some(flag) = flags.iter().find(|flag| flag.get_id() == name) else {
                let known: Vec<&str> = flags.iter().map(|flag| flag.get_id().as_str()).collect();
                let reason = format!("`{name}` is no setting; these are: {}, [{MQTT}]", known.join(", "));
                return Err(at(key.span(), &reason));
            };
            let given = words(flag, value.get_ref(), &text[value.span()])
                .and_then(|given| check(flag, &given).map(|()| given))
                .map_err(|reason| at(value.span(), &format!("`{name}`: {reason}")))?;
            values.insert(name.to_owned(), given);
        }
        let mut lines = BTreeMap::new();
        note_lines(&text, "", table.get_ref(), &mut lines);
        let Tables { mqtt } = toml::from_str(&text).map_err(|error| fault(&error))?;
        if let Some(mqtt) = &mqtt {
            mqtt.check().map_err(|(field, reason)| {
                // A field that is missing has no place: that of the table it is missing from tells as much.
                let mut found = format!("{MQTT}.{field}");
                while !lines.contains_key(&found) {
                    let Some((parent, _)) = found.rsplit_once(['.', '[']) else { break };
                    found = parent.to_owned();
                }
                let line = lines.get(&found).copied().unwrap_or_default();
                format!("{}:{line}: `{MQTT}.{field}`: {reason}", path.display())
            })?;
        }
        Ok(Self { path: path.to_owned(), values, lines, mqtt })
    }

    /// The command with the file's values as the defaults of its flags.
    pub fn under(&self, mut command: Command) -> Command {
        for (name, values) in &self.values {
            command = command.mut_arg(name, |flag| flag.default_values(values.clone()));
        }
        command
    }

    /// Where a key stands, if it is in the file.
    pub fn place(&self, key: &str) -> Option<String> {
        self.lines.get(key).map(|line| format!("{}, line {line}", self.path.display()))
    }
}

/// The flags whose names are the file's keys: those of `serve`, without that for the file itself.
fn flags() -> Vec<Arg> {
    let command = serve::Args::augment_args(Command::new("serve"));
    command.get_arguments().filter(|flag| flag.get_id() != FLAG).cloned().collect()
}

/// The words that a value stands for: one, or any number for a flag that may be given several times.
fn words(flag: &Arg, value: &DeValue<'_>, text: &str) -> Result<Vec<OsString>, String> {
    let word = |value: &DeValue<'_>, text: &str| match value {
        DeValue::String(text) => Ok(OsString::from(text.as_ref())),
        DeValue::Integer(_) | DeValue::Boolean(_) => Ok(OsString::from(text)),
        other => {
            Err(format!("of type {}, where a text, a whole number, true or false is taken", other.type_str()))
        }
    };
    let several = matches!(flag.get_action(), clap::ArgAction::Append);
    match value {
        DeValue::Array(items) if several => items
            .iter()
            .map(|item| word(item.get_ref(), item.get_ref().as_str().unwrap_or_default()))
            .collect(),
        other if several => Err(format!("of type {}, where a list is taken", other.type_str())),
        other => Ok(vec![word(other, text)?]),
    }
}

/// Checks a value by the flag's own rule.
fn check(flag: &Arg, words: &[OsString]) -> Result<(), String> {
    let alone = flag.clone().env(None::<&str>).required(false);
    let command = Command::new("").no_binary_name(true).arg(alone);
    let name = flag.get_long().unwrap_or_default();
    let given = words.iter().map(|word| {
        let mut given = OsString::from(format!("--{name}="));
        given.push(word);
        given
    });
    command.try_get_matches_from(given).map(drop).map_err(|error| {
        let told = error.to_string();
        let lines = told.lines().take_while(|line| !line.starts_with("For more")).map(str::trim);
        let lines: Vec<&str> = lines.filter(|line| !line.is_empty()).collect();
        lines.join(" ").trim_start_matches("error: ").to_owned()
    })
}

/// Notes the line of each key of a table and of those within it.
fn note_lines(text: &str, above: &str, table: &DeTable<'_>, lines: &mut BTreeMap<String, usize>) {
    for (key, value) in table {
        let path =
            if above.is_empty() { key.get_ref().to_string() } else { format!("{above}.{}", key.get_ref()) };
        lines.insert(path.clone(), place(text, key.span().start).0);
        match value.get_ref() {
            DeValue::Table(inner) => note_lines(text, &path, inner, lines),
            DeValue::Array(items) => {
                for (index, item) in items.iter().enumerate() {
                    if let DeValue::Table(inner) = item.get_ref() {
                        let path = format!("{path}[{index}]");
                        lines.insert(path.clone(), place(text, item.span().start).0);
                        note_lines(text, &path, inner, lines);
                    }
                }
            }
            _ => {}
        }
    }
}

/// Line and column of a byte of a text, counted from 1.
fn place(text: &str, byte: usize) -> (usize, usize) {
    let before = text.get(..byte).unwrap_or(text);
    let line_start = before.rfind('\n').map_or(0, |end| end + 1);
    (before.matches('\n').count() + 1, before[line_start..].chars().count() + 1)
}
