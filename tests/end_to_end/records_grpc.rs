//! Records over gRPC, from the real binary on SQLite.

mod events;
mod isolation;
mod resources;
mod yard;
