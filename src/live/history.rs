//! The last minutes, second by second, for drawing.

use std::collections::VecDeque;

use crate::series::timeline::course::Second;

/// So many seconds are kept: what the widest drawing shows.
pub const KEPT_S: u64 = 1800;

/// The latest seconds, oldest first; silent stretches are not among them.
#[derive(Debug, Clone, Default)]
pub struct History {
    seconds: VecDeque<Second>,
}

impl History {
    /// Takes the next second.
    pub fn take(&mut self, second: Second) {
        let oldest = second.second.saturating_sub(KEPT_S);
        while self
            .seconds
            .front()
            .is_some_and(|past| past.second < oldest)
        {
            self.seconds.pop_front();
        }
        self.seconds.push_back(second);
    }

    /// The seconds since `from`, counted from the recording's start.
    pub fn since(&self, from: u64) -> impl Iterator<Item = &Second> {
        let begin = self.seconds.partition_point(|past| past.second < from);
        self.seconds.range(begin..)
    }

    /// The latest second.
    pub fn latest(&self) -> Option<&Second> {
        self.seconds.back()
    }
}
