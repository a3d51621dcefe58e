//! Records over gRPC, from the real binary on SQLite.

mod bringing_in;
mod events;
mod isolation;
mod resources;
mod yard;
