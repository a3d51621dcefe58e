//! Records over REST, from the real binary on SQLite.

mod appending;
mod bringing_in;
mod crash;
mod estimates;
mod isolation;
mod keys;
mod resources;
mod yard;
