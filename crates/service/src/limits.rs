//! How much the service takes on.

use std::time::Duration;

/// Bounds on size, work at once and time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// Events of one history, those of its sources included.
    pub max_events: usize,
    /// Levels of sources below a history, as many as the model takes.
    pub max_source_levels: usize,
    /// Days of weather of one history, those of its sources included.
    pub max_weather_days: usize,
    /// Bays, wall layers, feedstocks and criteria of one history, those of its sources included.
    pub max_rows: usize,
    /// Bytes of one request body.
    pub max_body_bytes: usize,
    /// Bytes of one request body of events that are brought in.
    pub max_bring_in_bytes: usize,
    /// Events that are brought in at once.
    pub max_bring_in_events: usize,
    /// Bytes of one line of a stream.
    pub max_line_bytes: usize,
    /// Longest time for one estimate, waiting included.
    pub timeout: Duration,
    /// Longest silence of a stream's sender before the stream is ended.
    pub stream_idle: Duration,
    /// Estimates worked on at once.
    pub concurrency: usize,
    /// Most estimates waiting beyond those; one more is turned away, and so is one that would wait long.
    pub queue: usize,
    /// Streams open at once; one more is turned away.
    pub streams: usize,
    /// Watchers of readiness at once; one more is turned away.
    pub watchers: usize,
    /// Bytes of what estimates of stored batches worked out, kept so that an append need not work it out again.
    pub kept_bytes: usize,
}

impl Default for Limits {
    /// Sized for the machine: one estimate for each core.
    fn default() -> Self {
        let cores = std::thread::available_parallelism().map_or(1, usize::from);
        Self {
            max_events: 10_000,
            max_source_levels: baycast_model::check::SOURCE_DEPTH,
            max_weather_days: 20_000,
            max_rows: 2_000,
            max_body_bytes: 8 << 20,
            max_bring_in_bytes: 32 << 20,
            max_bring_in_events: 100_000,
            max_line_bytes: 8 << 20,
            timeout: Duration::from_secs(30),
            stream_idle: Duration::from_mins(5),
            concurrency: cores,
            queue: 64 * cores,
            streams: 64,
            watchers: 4096,
            kept_bytes: 256 << 20,
        }
    }
}
