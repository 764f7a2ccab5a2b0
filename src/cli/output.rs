//! Writing results to standard output, where a reader that goes away is no error.

use std::io::{ErrorKind, Write};

use serde::Serialize;

use super::failure::Failure;

/// Writes a finished text as it is.
pub fn print(text: &str) -> Result<(), Failure> {
    write(|out| out.write_all(text.as_bytes()))
}

/// Writes a value as one JSON document.
pub fn print_json(value: &impl Serialize) -> Result<(), Failure> {
    write(|out| {
        serde_json::to_writer_pretty(&mut *out, value)?;
        out.write_all(b"\n")
    })
}

/// Lets `body` write to standard output.
pub fn write(body: impl FnOnce(&mut dyn Write) -> std::io::Result<()>) -> Result<(), Failure> {
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    body(&mut out)
        .and_then(|()| out.flush())
        .map_err(|error| match error.kind() {
            ErrorKind::BrokenPipe => Failure::closed_pipe(),
            _ => Failure::new("standard output", error, "check where the output goes"),
        })
}

/// Says something to the person beside the result; when nobody is there to hear it, nothing is lost.
pub fn remark(text: impl std::fmt::Display) {
    let _ = writeln!(std::io::stderr().lock(), "{text}");
}
