//! Words that do not flicker: the feedback changes only when it has differed for some seconds.

use super::feedback::Feedback;

/// Consecutive seconds for which feedback must differ before it is shown (assumed).
const PATIENCE: u32 = 2;

/// Feedback on the screen.
#[derive(Debug, Clone)]
pub struct Shown {
    feedback: Feedback,
    /// Seconds in a row that differed.
    others: u32,
}

impl Shown {
    /// Without feedback so far; the first feedback is shown at once.
    pub fn nothing() -> Self {
        Self {
            feedback: Feedback::Waiting,
            others: 0,
        }
    }

    /// The feedback to show now.
    pub fn feedback(&self) -> Feedback {
        self.feedback
    }

    /// Takes the feedback of one second. New numbers in the same words are shown at once.
    pub fn take(&mut self, news: Feedback) {
        let like = news.is_like(&self.feedback);
        self.others = if like { 0 } else { self.others + 1 };
        if like || self.others >= PATIENCE || self.feedback == Feedback::Waiting {
            self.feedback = news;
            self.others = 0;
        }
    }
}
