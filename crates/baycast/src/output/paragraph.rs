//! Lines of bounded width under a hanging label.

use super::dates::MONTHS;

/// Width of a table, columns of a terminal.
pub const WIDTH: usize = 96;

/// Units that stay on the line of their number.
const UNITS: [&str; 6] = ["%", "°C", "°F", "m³", "kg", "litres"];

/// `text` after `label`, broken at spaces to [`WIDTH`], later lines indented to where the text begins.
pub fn labelled(label: &str, indent: usize, text: &str) -> String {
    let mut out = String::new();
    let mut line = format!("{label:indent$}");
    let mut filled = line.chars().count();
    let mut first = true;
    for word in unbroken(text) {
        let length = word.chars().count();
        if !first && filled + 1 + length > WIDTH {
            out.push_str(line.trim_end());
            out.push('\n');
            line = " ".repeat(indent);
            filled = indent;
            first = true;
        }
        if !first {
            line.push(' ');
            filled += 1;
        }
        line.push_str(&word);
        filled += length;
        first = false;
    }
    out.push_str(line.trim_end());
    out.push('\n');
    out
}

/// The words of a text, a number and its unit being one, and a date too.
fn unbroken(text: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match words.last_mut() {
            Some(before) if belong_together(before, word) => {
                before.push(' ');
                before.push_str(word);
            }
            _ => words.push(word.into()),
        }
    }
    words
}

/// Whether a line must not end between two words.
fn belong_together(before: &str, word: &str) -> bool {
    let bare = word.trim_end_matches(|last: char| last.is_ascii_punctuation() && last != '%');
    if before.ends_with(|last: char| last.is_ascii_digit()) {
        UNITS.contains(&bare) || MONTHS.contains(&bare)
    } else {
        MONTHS.iter().any(|month| before.ends_with(month)) && bare.len() == 4 && bare.parse::<u16>().is_ok()
    }
}

/// `left` and `right` at the two ends of one line.
pub fn apart(left: &str, right: &str) -> String {
    let gap = WIDTH.saturating_sub(left.chars().count() + right.chars().count()).max(2);
    format!("{left}{}{right}\n", " ".repeat(gap))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_line_is_wider_than_the_table_and_no_word_is_lost() {
        let text = "damp ½ m³ ".repeat(40);
        let block = labelled("  Moisture", 14, &text);
        assert!(block.lines().count() > 4);
        assert!(block.lines().all(|line| line.chars().count() <= WIDTH));
        assert!(block.lines().skip(1).all(|line| line.starts_with(&" ".repeat(14))));
        assert_eq!(block.split_whitespace().count(), 121);
        assert_eq!(
            unbroken("core 21 °C (18 to 24), 57 %; 3 kg"),
            ["core", "21 °C", "(18", "to", "24),", "57 %;", "3 kg"]
        );
        assert_eq!(
            unbroken("(5 Oct to 12 Nov 2026), may 2026 be"),
            ["(5 Oct", "to", "12 Nov 2026),", "may", "2026", "be"]
        );
        assert_eq!(apart("a", "b").chars().count(), WIDTH + 1);
    }
}
