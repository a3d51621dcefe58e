//! iCalendar's lines: escaped, folded, ended with CRLF (RFC 5545 sections 3.1 and 3.3.11).

/// Most octets of a line, its end left out (section 3.1).
const LINE_OCTETS: usize = 75;

/// An iCalendar object as it grows.
#[derive(Default)]
pub struct ContentLines(String);

impl ContentLines {
    /// A line whose value is as it stands: a date, a number, a word.
    pub fn put(&mut self, name: &str, value: &str) {
        self.fold(&format!("{name}:{value}"));
    }

    /// A line whose value is free text.
    pub fn text(&mut self, name: &str, value: &str) {
        self.put(name, &escaped(value));
    }

    /// Everything put in.
    pub fn finish(self) -> Vec<u8> {
        self.0.into_bytes()
    }

    /// Writes a line, going on in the next one wherever it would be too long; no character is cut in two.
    fn fold(&mut self, line: &str) {
        let mut octets = 0;
        for letter in line.chars() {
            if octets + letter.len_utf8() > LINE_OCTETS {
                self.0.push_str("\r\n ");
                octets = 1;
            }
            self.0.push(letter);
            octets += letter.len_utf8();
        }
        self.0.push_str("\r\n");
    }
}

/// Text with what means something in iCalendar escaped. Control characters but line ends have no place in it.
fn escaped(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for letter in text.replace("\r\n", "\n").chars() {
        match letter {
            '\\' | ';' | ',' => escaped.extend(['\\', letter]),
            '\n' | '\r' => escaped.push_str("\\n"),
            control if control.is_control() => escaped.push(' '),
            other => escaped.push(other),
        }
    }
    escaped
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(name: &str, text: &str) -> String {
        let mut lines = ContentLines::default();
        lines.text(name, text);
        String::from_utf8(lines.finish()).unwrap()
    }

    #[test]
    fn what_means_something_is_escaped() {
        // The example of RFC 5545 section 3.3.11, a newline in the place of its own.
        assert_eq!(
            lines("X", "Conference Room - 3rd Floor, Max."),
            "X:Conference Room - 3rd Floor\\, Max.\r\n"
        );
        assert_eq!(lines("X", "a;b\\c\nd\r\ne\u{7}"), "X:a\\;b\\\\c\\nd\\ne \r\n");
    }

    #[test]
    fn no_line_is_too_long_and_none_is_lost() {
        for text in ["compost ".repeat(40), "ü".repeat(100), "🍂".repeat(60), "a".repeat(73), "a".repeat(74)]
        {
            let folded = lines("X", &text);
            assert!(folded.split("\r\n").all(|line| line.len() <= 75), "{folded}");
            assert_eq!(folded.replace("\r\n ", ""), format!("X:{text}\r\n"));
        }
        assert_eq!(lines("X", &"a".repeat(73)).lines().count(), 1);
        assert_eq!(lines("X", &"a".repeat(74)).lines().count(), 2);
    }
}
