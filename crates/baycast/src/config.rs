//! Where settings come from: the configuration file, over it the environment, over both the flags.
//!
//! A setting is declared once, as a flag of `serve`. The file's keys are those declarations' names, and its values stand in
//! for their defaults, so that they are read and checked by the flags' own rules. Only the table `[mqtt]` has no flags.

mod file;
mod mqtt;
mod setting;

use std::path::PathBuf;

use clap::{ArgMatches, Command, CommandFactory, FromArgMatches};

use file::File;
pub use mqtt::Table as Mqtt;
pub use setting::Setting;

use crate::CommandLine;

/// The flag that names the file: the one that can't stand in it.
const FLAG: &str = "config";

/// A command line together with the file that it names.
#[derive(Debug)]
pub struct Given {
    /// What is to be done, with the file's values where nothing stronger is said.
    pub line: CommandLine,
    /// The settings in force, for commands that take a file.
    pub settings: Vec<Setting>,
    /// The file's table for MQTT.
    pub mqtt: Option<Mqtt>,
}

/// Reads the command line, the environment and the file. Where the command line or the environment is at fault, ends the
/// process with the usual message.
pub fn read() -> Result<Given, String> {
    let command = CommandLine::command();
    let matches = command.clone().get_matches();
    let Some((name, file)) = named(&matches) else { return Ok(given(&command, &matches, None)) };
    let file = File::read(&file)?;
    let matches = command.clone().mut_subcommand(name, |own| file.under(own)).get_matches();
    Ok(given(&command, &matches, Some(file)))
}

/// The command and the file that it names, if it takes one and names one.
fn named(matches: &ArgMatches) -> Option<(String, PathBuf)> {
    let (name, own) = matches.subcommand()?;
    let file = own.try_get_one::<PathBuf>(FLAG).ok()??;
    Some((name.to_owned(), file.clone()))
}

/// What was found out.
fn given(command: &Command, matches: &ArgMatches, file: Option<File>) -> Given {
    let line = CommandLine::from_arg_matches(matches).unwrap_or_else(|error| error.exit());
    let own = matches.subcommand().and_then(|(name, own)| Some((command.find_subcommand(name)?, own)));
    let takes_a_file = |own: &Command| own.get_arguments().any(|flag| flag.get_id() == FLAG);
    let settings = match own.filter(|(command, _)| takes_a_file(command)) {
        Some((command, matches)) => setting::all(command, matches, file.as_ref()),
        None => Vec::new(),
    };
    Given { line, settings, mqtt: file.and_then(|file| file.mqtt) }
}
