//! The wish to stop: Ctrl-C, a polite request to end, a terminal that was closed.

use super::failure::Failure;
use crate::link::RecordingRequest;

/// Listens from now on, so that no wish is lost between two waits.
#[derive(Debug)]
pub struct Interrupt {
    #[cfg(unix)]
    signals: [tokio::signal::unix::Signal; 3],
}

impl Interrupt {
    /// Begins to listen.
    ///
    /// # Errors
    /// When the system does not let it.
    #[cfg(unix)]
    pub fn listen() -> Result<Self, Failure> {
        use tokio::signal::unix::{SignalKind, signal};
        let listen = |kind| signal(kind).map_err(Failure::of_this_computer);
        Ok(Self {
            signals: [
                listen(SignalKind::interrupt())?,
                listen(SignalKind::terminate())?,
                listen(SignalKind::hangup())?,
            ],
        })
    }

    /// Begins to listen.
    ///
    /// # Errors
    /// None on this system.
    #[cfg(not(unix))]
    pub fn listen() -> Result<Self, Failure> {
        Ok(Self {})
    }

    /// Waits for the wish, as a recording takes it.
    pub async fn stop(&mut self) -> RecordingRequest {
        self.wished().await;
        RecordingRequest::Stop
    }

    /// Waits for the wish.
    #[cfg(unix)]
    pub async fn wished(&mut self) {
        let [interrupt, terminate, hangup] = &mut self.signals;
        tokio::select! {
            _ = interrupt.recv() => {}
            _ = terminate.recv() => {}
            _ = hangup.recv() => {}
        }
    }

    /// Waits for the wish.
    #[cfg(not(unix))]
    pub async fn wished(&mut self) {
        // Without the signal there is nothing to wait for: recording then ends by its time alone.
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    }
}
