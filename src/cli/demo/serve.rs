//! The virtual adapter alone, in real time, for other commands to plug into.

use super::{
    super::{failure::Failure, serve},
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
    let clock = Clock::real();
    let endpoint = bay::open(spec, &[fault], Trip::warm(seed), seed, &clock, place)?;
    let option = match place {
        #[cfg(unix)]
        Place::Pty => "--port",
        Place::Tcp => "--tcp",
    };
    let what = format!(
        "{} with {} is being driven",
        spec.label,
        fault.cause.words()
    );
    serve::until_stopped(option, &endpoint, what).await
}
