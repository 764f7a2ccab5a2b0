//! Writing to standard output and standard error: nothing that a terminal would obey gets out but our own bold letters.
//!
//! A reader that goes away is no error.

use std::{
    borrow::Cow,
    ffi::OsString,
    io::{ErrorKind, Write},
    process::ExitCode,
};

use serde::Serialize;

use super::{failure::Failure, files, terminal};
use crate::{printable, report::terminal_page::Text};

/// Turns bold letters on (ECMA-48).
const BOLD: &str = "\x1b[1m";

/// Turns bold letters off, and all other emphasis (ECMA-48).
const PLAIN: &str = "\x1b[0m";

/// Writes a finished text.
pub fn print(text: &str) -> Result<(), Failure> {
    let text = printable::text(text);
    write(|out| out.write_all(text.as_bytes()))
}

/// Writes a finished text, the sentence that matters most in bold letters where the terminal has them.
pub fn print_finding(text: &Text) -> Result<(), Failure> {
    let finding = printable::text(text.finding.trim_end());
    let rest = printable::text(&text.rest);
    write(|out| {
        if terminal::letters() {
            write!(out, "{BOLD}{finding}{PLAIN}\n{rest}")
        } else {
            write!(out, "{finding}\n{rest}")
        }
    })
}

/// Writes a value as one JSON document.
pub fn print_json(value: &impl Serialize) -> Result<(), Failure> {
    let document =
        json(value).map_err(|error| Failure::new("JSON", error, "report this as a bug"))?;
    write(|out| writeln!(out, "{document}"))
}

/// A value as one JSON document, what cannot be shown escaped.
pub fn json(value: &impl Serialize) -> serde_json::Result<String> {
    let document = serde_json::to_string_pretty(value)?;
    Ok(printable::json(&document).into_owned())
}

/// Lets `body` write to standard output, as it is: for tables whose cells are printable already.
pub fn write(body: impl FnOnce(&mut dyn Write) -> std::io::Result<()>) -> Result<(), Failure> {
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    body(&mut out)
        .and_then(|()| out.flush())
        .map_err(|error| match error.kind() {
            ErrorKind::BrokenPipe => Failure::closed_pipe(),
            _ => files::refused("standard output", &error),
        })
}

/// Says something that the person must not overlook.
pub fn warn(text: impl std::fmt::Display) {
    remark(format_args!("WARNING: {text}"));
}

/// Says something to the person beside the result; when nobody is there to hear it, nothing is lost.
pub fn remark(text: impl std::fmt::Display) {
    let text = text.to_string();
    let _ = writeln!(std::io::stderr().lock(), "{}", printable::text(&text));
}

/// Asks the person something; the answer is typed on the same line.
pub fn ask(question: &str) {
    let mut out = std::io::stderr().lock();
    // a terminal that is gone answers nothing either
    let _ = write!(out, "{}", printable::text(question));
    let _ = out.flush();
}

/// Help, the version, or how the arguments are wrong; the exit code.
pub fn answer_call(answer: &clap::Error) -> ExitCode {
    // it may repeat an argument, and its own colours cannot be told from those in there
    let is_printable = |argument: OsString| {
        matches!(
            printable::text(&argument.to_string_lossy()),
            Cow::Borrowed(_)
        )
    };
    if std::env::args_os().all(is_printable) {
        drop(answer.print())
    } else {
        remark(answer.render().to_string().trim_end())
    }
    ExitCode::from(u8::try_from(answer.exit_code()).unwrap_or(2))
}
