//! The caller's own deadline, from the `grpc-timeout` header.

use std::time::Duration;

use futures::{Stream, StreamExt, stream};
use tokio::time::{Instant, sleep_until};
use tonic::Status;
use tonic::metadata::MetadataMap;

/// When the caller stops waiting, if ever.
#[derive(Clone, Copy, Debug)]
pub struct Deadline(Option<Instant>);

/// The deadline that a request's metadata sets.
pub fn of(metadata: &MetadataMap) -> Result<Deadline, Status> {
    let Some(header) = metadata.get("grpc-timeout") else { return Ok(Deadline(None)) };
    let timeout = header.to_str().ok().and_then(duration);
    let timeout = timeout.ok_or_else(|| {
        Status::invalid_argument("grpc-timeout is not 1 to 8 digits and one of H, M, S, m, u, n")
    })?;
    Ok(Deadline(Instant::now().checked_add(timeout)))
}

impl Deadline {
    /// `work`, or `DEADLINE_EXCEEDED` where it takes longer.
    pub async fn keep<T>(self, work: impl Future<Output = Result<T, Status>>) -> Result<T, Status> {
        let Some(instant) = self.0 else { return work.await };
        // The deadline is looked at first: an answer that is found ready after it is too late all the same.
        tokio::select! {
            biased;
            () = sleep_until(instant) => Err(exceeded()),
            done = work => done,
        }
    }

    /// `answers`, ended with `DEADLINE_EXCEEDED` where they go on for longer.
    pub fn cut<T: Send>(
        self,
        answers: impl Stream<Item = Result<T, Status>> + Send,
    ) -> impl Stream<Item = Result<T, Status>> + Send {
        stream::unfold(Some(Box::pin(answers)), move |answers| async move {
            let mut answers = answers?;
            match self.keep(async { Ok(answers.next().await) }).await {
                Ok(answer) => answer.map(|answer| (answer, Some(answers))),
                Err(exceeded) => Some((Err(exceeded), None)),
            }
        })
    }
}

/// The status of a call that ran over.
fn exceeded() -> Status {
    Status::deadline_exceeded("not done within the deadline that the caller set")
}

/// A timeout in the form of the gRPC protocol: at most eight digits and a unit.
fn duration(text: &str) -> Option<Duration> {
    let (digits, unit) = text.split_at_checked(text.len().checked_sub(1)?)?;
    if digits.is_empty() || digits.len() > 8 || !digits.bytes().all(|byte| byte.is_ascii_digit()) {
        return None;
    }
    let number: u64 = digits.parse().ok()?;
    match unit {
        "H" => Some(Duration::from_secs(number * 3600)),
        "M" => Some(Duration::from_secs(number * 60)),
        "S" => Some(Duration::from_secs(number)),
        "m" => Some(Duration::from_millis(number)),
        "u" => Some(Duration::from_micros(number)),
        "n" => Some(Duration::from_nanos(number)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn timeouts_are_read_in_every_unit_and_in_no_other_form() {
        assert_eq!(duration("2H"), Some(Duration::from_hours(2)));
        assert_eq!(duration("250m"), Some(Duration::from_millis(250)));
        assert_eq!(duration("99999999n"), Some(Duration::from_nanos(99_999_999)));
        for wrong in ["", "S", "1", "1s", "-1S", "123456789S", "1.5S", "1°"] {
            assert_eq!(duration(wrong), None, "{wrong}");
        }
    }
}
