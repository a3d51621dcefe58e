//! Fields of a message on their way in, with what is wrong with them.

use std::str::FromStr;

use baycast_model::problem::Problems;
use baycast_service::Error;
use baycast_service::pointer::Pointer;

use super::word::Word;

/// What stands where a required field is absent.
const REQUIRED: &str = "a value: this member is required";

/// Collects every problem of a message. What it hands back in place of an unusable value is never looked at,
/// since the whole is refused once one problem is noted.
#[derive(Default)]
pub struct Incoming {
    problems: Problems,
}

impl Incoming {
    /// What `read` makes of the message that a request must have as `name`, or everything that is wrong with it.
    pub fn required<M, T>(
        message: Option<M>,
        name: &str,
        read: impl FnOnce(M, Pointer<'_>, &mut Self) -> T,
    ) -> Result<T, Error> {
        let mut incoming = Self::default();
        let message = incoming.message(message, Pointer::Root.member(name));
        let read = message.map(|message| read(message, Pointer::Root, &mut incoming));
        incoming.finish().map_err(Error::Invalid)?;
        read.ok_or_else(|| Error::Invalid(Problems::default()))
    }

    /// The number, or the problem that there is none.
    pub fn number(&mut self, value: Option<f64>, at: Pointer<'_>) -> f64 {
        value.unwrap_or_else(|| self.absent(at, f64::NAN))
    }

    /// The message, or the problem that there is none.
    pub fn message<T>(&mut self, value: Option<T>, at: Pointer<'_>) -> Option<T> {
        if value.is_none() {
            self.absent(at, ());
        }
        value
    }

    /// The text read as a date or time, or the problem that it is none.
    pub fn parsed<T: FromStr>(&mut self, text: &str, at: Pointer<'_>, accepted: &str) -> Option<T> {
        let read = text.parse().ok();
        if read.is_none() {
            self.problems.add(at, format!("{text:?}"), accepted);
        }
        read
    }

    /// The word, or the problem that it is not said.
    pub fn word<T: Word>(&mut self, wire: i32, at: Pointer<'_>) -> Option<T> {
        let word = self.optional_word(wire, at);
        if wire == 0 {
            self.problems.add(at, "nothing", format!("one of {}", T::accepted()));
        }
        word
    }

    /// The word, or `None` where it is not said.
    pub fn optional_word<T: Word>(&mut self, wire: i32, at: Pointer<'_>) -> Option<T> {
        let word = T::from_wire(wire);
        if word.is_none() && wire != 0 {
            self.problems.add(at, wire, format!("one of {}", T::accepted()));
        }
        word
    }

    /// Everything noted, where anything was.
    pub fn finish(self) -> Result<(), Problems> {
        self.problems.into_result()
    }

    /// Notes a required field that is absent.
    fn absent<T>(&mut self, at: Pointer<'_>, instead: T) -> T {
        self.problems.add(at, "nothing", REQUIRED);
        instead
    }
}
