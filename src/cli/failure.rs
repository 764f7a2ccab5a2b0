//! Any error as the person at the car needs it: one line that names the thing, the problem and the next step.

use std::{fmt, process::ExitCode};

use super::output;

use crate::{io_words, printable};

/// Most characters of what an error says of one thing; a file may bring texts of any length into it.
const MOST: usize = 400;

/// Why a command could not do its work.
#[derive(Debug)]
pub struct Failure {
    line: String,
    code: u8,
}

impl Failure {
    /// The work could not be done: exit 1.
    ///
    /// `thing` is what the person knows (a file, a port), `problem` what is wrong with it, `next` what to do now.
    pub fn new(
        thing: impl fmt::Display,
        problem: impl fmt::Display,
        next: impl fmt::Display,
    ) -> Self {
        Self {
            line: format!(
                "{}: {}; {}",
                printable::end(&one_line(&thing), MOST),
                beginning(&problem),
                beginning(&next)
            ),
            code: 1,
        }
    }

    /// What happened and what to do next, where the error names its thing itself.
    pub fn of(problem: impl fmt::Display, next: impl fmt::Display) -> Self {
        Self {
            line: format!("{}; {}", beginning(&problem), beginning(&next)),
            code: 1,
        }
    }

    /// The system does not give what every program needs.
    pub(super) fn of_this_computer(error: std::io::Error) -> Self {
        Self::new(
            "this computer",
            io_words::problem(&error),
            "close other programs and try again",
        )
    }

    /// The command was called wrongly: exit 2.
    pub fn usage(problem: impl fmt::Display) -> Self {
        Self {
            line: beginning(&problem),
            code: 2,
        }
    }

    /// Stopped by the person, after what was there has been saved: exit 130.
    pub fn interrupted(saved: impl fmt::Display) -> Self {
        Self {
            line: one_line(&saved),
            code: 130,
        }
    }

    /// The reader of our output has gone away (`pintle … | head`): nothing to say, nothing wrong.
    pub(super) const fn closed_pipe() -> Self {
        Self {
            line: String::new(),
            code: 0,
        }
    }

    /// Writes the line to standard error and gives the exit code.
    pub fn report(&self) -> ExitCode {
        if !self.line.is_empty() {
            output::remark(format_args!("pintle: {}", self.line));
        }
        ExitCode::from(self.code)
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.line)
    }
}

fn one_line(words: &impl fmt::Display) -> String {
    let text = words.to_string();
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn beginning(words: &impl fmt::Display) -> String {
    printable::beginning(&one_line(words), MOST).into_owned()
}
