//! How a recording ended, as a line for the person; the same for all commands that record.

use std::path::Path;

use super::{failure::Failure, output};
use crate::link::{Ending, Recorded, Target, look_after};

/// What was recorded, in a line. `capture` is where it is kept, `left_out` how many readings cannot be true.
pub fn words(capture: Option<&Path>, recorded: &Recorded, left_out: u64) -> String {
    let again = match recorded.asked_again {
        0 => String::new(),
        1 => ", 1 request repeated".to_owned(),
        again => format!(", {again} requests repeated"),
    };
    let left_out = match left_out {
        0 => String::new(),
        1 => ", 1 reading cannot be true (see `pintle inspect`)".to_owned(),
        readings => format!(", {readings} readings cannot be true (see `pintle inspect`)"),
    };
    let (name, verb) = match capture {
        Some(path) => (format!("{}: ", path.display()), "recorded"),
        None => (String::new(), "watched, not recorded"),
    };
    format!(
        "{name}{:.0} s {verb}, {} answers{again}{left_out}",
        recorded.length_us as f64 / 1e6,
        recorded.answers
    )
}

/// Tells how it ended; `what` was recorded, and the adapter was at `target`.
pub fn tell(target: &Target, ending: &Ending, what: &str) -> Result<(), Failure> {
    match ending {
        Ending::TimeOver => output::remark(what),
        Ending::Stopped => return Err(Failure::interrupted(format!("stopped; {what}"))),
        Ending::Lost(words) => {
            return Err(Failure::new(
                target,
                format!("the adapter was lost ({words}) and did not come back"),
                format!("{} and record again; {what}", look_after(target.kind())),
            ));
        }
    }
    Ok(())
}
