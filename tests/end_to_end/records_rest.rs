//! Records over REST, from the real binary on SQLite.

mod appending;
mod crash;
mod estimates;
mod isolation;
mod keys;
mod resources;
mod yard;
