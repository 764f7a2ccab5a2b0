//! The virtual adapter alone, in real time, for other commands to plug into.

use super::{
    super::{failure::Failure, interrupt::Interrupt, output},
    Place, bay,
};
use crate::{
    clock::Clock,
    simulator::{fault::Fault, fleet::CarSpec, trip::Trip},
};

/// Opens the adapter, says where it is, and waits for Ctrl-C.
pub(super) async fn serve(
    spec: &'static CarSpec,
    fault: Fault,
    seed: u64,
    place: Place,
) -> Result<(), Failure> {
    let mut interrupt = Interrupt::listen().map_err(|error| {
        Failure::new("this computer", error, "close other programs and try again")
    })?;
    let clock = Clock::real();
    let endpoint = bay::open(spec, &[fault], Trip::warm(seed), seed, &clock, place)?;
    let option = match place {
        #[cfg(unix)]
        Place::Pty => "--port",
        Place::Tcp => "--tcp",
    };
    output::print(&format!("{option} {}\n", endpoint.address()))?;
    output::remark(format_args!(
        "{} with {} is being driven; plug in with that, end with Ctrl-C",
        spec.label,
        fault.cause.words()
    ));
    interrupt.wished().await;
    Ok(())
}
