//! The request that clears codes, and the proof without which nobody can make it.

use pintle_protocol::service::{Request, Services};

use crate::capture::{CaptureError, Writer};

/// Proof that a capture is complete and on the disk.
#[derive(Debug)]
pub struct Saved(());

impl Saved {
    /// Finishes a capture.
    ///
    /// # Errors
    /// When the disk does not have all of it.
    pub(super) fn finish(writer: Writer) -> Result<Self, CaptureError> {
        writer.finish()?;
        Ok(Self(()))
    }
}

/// The request that clears codes, freeze frames and test results of all controllers.
#[derive(Debug)]
pub(super) struct Clearing(Vec<u8>);

impl Clearing {
    /// Service 04 of SAE J1979, or 14 of ISO 14229 where the car answers those.
    pub fn new(_saved: Saved, services: Services) -> Self {
        Self(Request::Clear.bytes(services).unwrap_or_default())
    }

    /// The request's bytes.
    pub fn bytes(&self) -> &[u8] {
        &self.0
    }
}
