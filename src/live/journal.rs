//! The last marks and states of the link, newest last.

use std::collections::VecDeque;

use crate::{capture::Fact, printable};

/// So many entries are kept.
const KEPT: usize = 200;

/// What was remarked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// When, µs since the recording started.
    pub t_us: u64,
    /// Whether the link said it; otherwise it is a mark.
    pub of_link: bool,
    /// The words, in one line.
    pub words: String,
}

/// The latest remarks.
#[derive(Debug, Clone, Default)]
pub struct Journal {
    entries: VecDeque<Entry>,
}

impl Journal {
    /// Takes a mark or a state of the link; anything else is no remark.
    pub fn take(&mut self, fact: &Fact<'_>) {
        let (t_us, of_link, text) = match fact {
            Fact::Mark { t_us, text } => (*t_us, false, *text),
            Fact::Link { t_us, text } => (*t_us, true, *text),
            Fact::Reading(_) | Fact::Answer { .. } => return,
        };
        if self.entries.len() == KEPT {
            self.entries.pop_front();
        }
        self.entries.push_back(Entry {
            t_us,
            of_link,
            words: printable::line(text.trim()).into_owned(),
        });
    }

    /// The entries, oldest first.
    pub fn entries(&self) -> impl DoubleEndedIterator<Item = &Entry> + ExactSizeIterator {
        self.entries.iter()
    }
}
