//! Mistakes in a form, each with its place.

use std::{fmt, ops::Range};

use crate::entries;

/// One mistake.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mistake {
    line: usize,
    column: usize,
    what: String,
}

impl Mistake {
    /// A mistake at a place in the text: what is wrong and what would be right.
    pub fn at(text: &str, place: &Range<usize>, what: impl Into<String>) -> Self {
        let (line, column) = entries::place(text, place.start);
        Self {
            line,
            column,
            what: what.into(),
        }
    }
}

/// A form that cannot be used: its mistakes, first to last.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FormError(Vec<Mistake>);

impl FormError {
    /// An error with these mistakes; `None` without any.
    pub fn of(mut mistakes: Vec<Mistake>) -> Option<Self> {
        mistakes.sort_by_key(|mistake| (mistake.line, mistake.column));
        (!mistakes.is_empty()).then_some(Self(mistakes))
    }
}

impl fmt::Display for FormError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Some((first, more)) = self.0.split_first() else {
            return Ok(());
        };
        let Mistake { line, column, what } = first;
        write!(f, "line {line}, column {column}: {what}")?;
        let mut lines: Vec<String> = more.iter().map(|other| other.line.to_string()).collect();
        lines.dedup();
        match lines.as_slice() {
            [] => Ok(()),
            [one] => write!(f, "; also look at line {one}"),
            several => write!(f, "; also look at lines {}", several.join(", ")),
        }
    }
}

impl std::error::Error for FormError {}
