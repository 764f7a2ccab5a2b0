//! Keeping a virtual adapter open for other commands to plug into.

use std::{convert::Infallible, fmt::Display};

use super::{failure::Failure, interrupt::Interrupt, output};
use crate::simulator::adapter::endpoint::Endpoint;

/// Prints the option that leads to the device (`--port …`, `--tcp …`), says what is there, and waits for Ctrl-C; what is
/// to be done meanwhile never ends by itself.
pub(super) async fn until_stopped(
    option: &str,
    endpoint: &Endpoint,
    what: impl Display,
    meanwhile: impl Future<Output = Infallible>,
) -> Result<(), Failure> {
    let mut interrupt = Interrupt::listen()?;
    output::print(&format!("{option} {}\n", endpoint.address()))?;
    output::remark(format_args!("{what}; connect with that, stop with Ctrl-C"));
    tokio::select! {
        () = interrupt.wished() => Ok(()),
        never = meanwhile => match never {},
    }
}
