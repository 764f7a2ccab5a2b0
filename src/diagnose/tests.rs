//! Judging summaries made by hand.
