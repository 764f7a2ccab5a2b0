//! A page of text for a terminal: words in lines, headings, lists and tables within a width.

use std::fmt;

use comfy_table::{ContentArrangement, Table, presets};

/// Width in columns where the terminal does not report one (common practice).
const USUAL_WIDTH: u16 = 100;

/// Words that stay on one line with the number before them.
const UNITS: [&str; 16] = [
    "%", "°C", "°F", "kPa", "psi", "bar", "rpm", "km/h", "mph", "km", "min", "s", "ml", "Ω",
    "points", ":",
];

/// Words, each number together with its unit: `+6.5 %`, `9 345`, `3.8 : 1`.
fn unbroken(text: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let bare = word.trim_end_matches(['.', ',', ';', ')', ':']);
        let unit = UNITS.contains(&word) || UNITS.contains(&bare);
        let digits = |text: &str| text.len() == 3 && text.bytes().all(|byte| byte.is_ascii_digit());
        match words.last_mut() {
            Some(number)
                if number.ends_with(" :")
                    || number.ends_with(|c: char| c.is_ascii_digit()) && (unit || digits(bare)) =>
            {
                number.push(' ');
                number.push_str(word);
            }
            _ => words.push(word.to_owned()),
        }
    }
    words
}

/// A finished text.
#[derive(Debug, Clone)]
pub struct Text {
    /// The most important sentence, in one or more lines.
    pub finding: String,
    /// Everything after the most important sentence.
    pub rest: String,
}

impl fmt::Display for Text {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", self.finding, self.rest)
    }
}

/// A page of a certain width.
pub(super) struct Page {
    width: u16,
}

impl Page {
    /// A page of this many columns, or of the usual width.
    pub(super) fn new(width: Option<u16>) -> Self {
        Self {
            width: width.unwrap_or(USUAL_WIDTH).max(40),
        }
    }

    /// A finished text from the most important sentence and what follows it.
    pub(super) fn text(&self, finding: &str, rest: String) -> Text {
        let mut lines = String::new();
        self.paragraph(&mut lines, finding, "");
        Text {
            finding: lines,
            rest,
        }
    }

    /// Words in lines, each behind the indent.
    pub(super) fn paragraph(&self, text: &mut String, words: &str, indent: &str) {
        let mut line = indent.to_owned();
        for word in unbroken(words) {
            let full = line.chars().count() + 1 + word.chars().count() > usize::from(self.width);
            if full && line.trim() != "" {
                text.push_str(line.trim_end());
                text.push('\n');
                line = indent.to_owned();
            }
            if line.trim() != "" {
                line.push(' ');
            }
            line.push_str(&word);
        }
        text.push_str(line.trim_end());
        text.push('\n');
    }

    /// An empty line, then words.
    pub(super) fn heading(&self, text: &mut String, words: &str) {
        text.push('\n');
        self.paragraph(text, words, "");
    }

    /// A heading and indented lines; nothing without lines.
    pub(super) fn list<'a>(
        &self,
        text: &mut String,
        heading: &str,
        lines: impl Iterator<Item = &'a str>,
    ) {
        let lines: Vec<&str> = lines.collect();
        if lines.is_empty() {
            return;
        }
        self.heading(text, heading);
        for line in lines {
            self.paragraph(text, line, "  ");
        }
    }

    /// A table without lines.
    pub(super) fn table(&self, text: &mut String, headings: &[&str], rows: Vec<Vec<String>>) {
        let mut table = Table::new();
        table
            .load_preset(presets::NOTHING)
            .set_content_arrangement(ContentArrangement::Dynamic)
            .set_width(self.width.saturating_sub(1));
        table.set_header(headings.iter().copied());
        table.add_rows(rows);
        for line in table.lines() {
            // each cell brings one blank before it
            text.push(' ');
            text.push_str(line.trim_end());
            text.push('\n');
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_and_its_unit_stay_on_one_line() {
        for words in [
            "of +6.5 %, and",
            "in 9 345 turns",
            "supports 3.8 : 1: codes",
            "(10 min)",
            "at 380 kPa.",
        ] {
            let kept = ["+6.5 %", "9 345", "3.8 : 1", "10 min", "380 kPa"];
            let kept = kept.into_iter().find(|kept| words.contains(kept)).unwrap();
            // one character more each time: the line ends at every place in turn
            for before in 0..40 {
                let mut text = String::new();
                let filled = format!("{} {words}", "x".repeat(before));
                Page::new(Some(40)).paragraph(&mut text, &filled, "");
                assert!(text.contains(kept), "{text}");
                assert!(
                    text.lines().all(|line| line.chars().count() <= 40),
                    "{text}"
                );
            }
        }
    }
}
