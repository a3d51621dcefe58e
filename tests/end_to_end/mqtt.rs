//! Probes that publish to a real broker, and what becomes of their readings.

mod arriving;
mod broker;
mod broker_away;
mod enduring;
mod farm;
mod guarded;
mod sharing;
