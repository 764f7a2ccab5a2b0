//! What was wrong with a capture and could be read around.

use serde::Serialize;

/// How many bad lines are named one by one.
const NAMED: usize = 10;

/// What was wrong with a capture and was left out.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Damage {
    /// Lines inside the file that are no rows.
    pub bad_lines: u64,
    /// The first ten of them.
    pub first_bad: Vec<BadLine>,
    /// The file ends in the middle of a line, which was dropped.
    pub torn_end: bool,
    /// Parts of the compressed file do not fit their checksums and were left out, or its end is cut.
    pub broken_compression: bool,
}

/// A line that is no row.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct BadLine {
    /// Line number in the (uncompressed) file, from 1.
    pub line: u64,
    /// What is wrong with it.
    pub problem: &'static str,
}

impl Damage {
    /// Nothing was wrong.
    pub fn is_none(&self) -> bool {
        *self == Self::default()
    }

    /// Counts a bad line, and names it if it is one of the first.
    pub(super) fn add(&mut self, line: u64, problem: &'static str) {
        self.bad_lines += 1;
        if self.first_bad.len() < NAMED {
            self.first_bad.push(BadLine { line, problem });
        }
    }
}
