//! A page of text for a terminal: words in lines, headings, lists and tables within a width.

use std::fmt;

use comfy_table::{ContentArrangement, Table, presets};

/// Width when the terminal does not say.
const USUAL_WIDTH: u16 = 100;

/// A finished text.
#[derive(Debug, Clone)]
pub struct Text {
    /// The sentence that matters most, in one or more lines.
    pub finding: String,
    /// Everything after it.
    pub rest: String,
}

impl fmt::Display for Text {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", self.finding, self.rest)
    }
}

/// How wide the page is.
pub(super) struct Page {
    width: u16,
}

impl Page {
    /// A page of so many columns, where they are known.
    pub(super) fn new(width: Option<u16>) -> Self {
        Self {
            width: width.unwrap_or(USUAL_WIDTH).max(40),
        }
    }

    /// The sentence that matters most, with what is written after it.
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
        for word in words.split_whitespace() {
            let full = line.chars().count() + 1 + word.chars().count() > usize::from(self.width);
            if full && line.trim() != "" {
                text.push_str(line.trim_end());
                text.push('\n');
                line = indent.to_owned();
            }
            if line.trim() != "" {
                line.push(' ');
            }
            line.push_str(word);
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
