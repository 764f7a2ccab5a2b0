//! Keeping a virtual adapter open for other commands to plug into.

use std::fmt::Display;

use super::{failure::Failure, interrupt::Interrupt, output};
use crate::simulator::endpoint::Endpoint;

/// Prints the option that leads to the device (`--port …`, `--tcp …`), says what is there, and waits for Ctrl-C.
pub(super) async fn until_stopped(
    option: &str,
    endpoint: &Endpoint,
    what: impl Display,
) -> Result<(), Failure> {
    let mut interrupt = Interrupt::listen().map_err(|error| {
        Failure::new("this computer", error, "close other programs and try again")
    })?;
    output::print(&format!("{option} {}\n", endpoint.address()))?;
    output::remark(format_args!("{what}; plug in with that, end with Ctrl-C"));
    interrupt.wished().await;
    Ok(())
}
