//! How many files the process may have open, of which each connection is one.

use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};

/// Kept for what is no connection to the port: the records, webhooks, the broker, files.
const RESERVE: usize = 256;

/// Asks for as many open files as `connections` need, as far as the machine's own limit allows.
fn want(connections: usize) {
    let Rlimit { current, maximum } = getrlimit(Resource::Nofile);
    let wanted = (connections + RESERVE) as u64;
    let wanted = maximum.map_or(wanted, |maximum| wanted.min(maximum));
    if current.is_some_and(|current| current < wanted) {
        // Where it is refused, fewer connections are taken.
        let _ = setrlimit(Resource::Nofile, Rlimit { current: Some(wanted), maximum });
    }
}

/// As many of so many connections as there may be files open, after asking for more where they are too few.
pub fn room(connections: usize) -> usize {
    want(connections);
    match getrlimit(Resource::Nofile).current {
        Some(files) => {
            let files = usize::try_from(files).unwrap_or(usize::MAX);
            connections.min(files.saturating_sub(RESERVE).max(files / 2)).max(1)
        }
        None => connections,
    }
}
