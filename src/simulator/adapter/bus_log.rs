//! What the adapter has put on the car's bus, for whoever wants to see that nothing else was.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Every message that the adapter sent to the car, in order. Copies of it share one list: take one before the adapter
/// goes to work in a thread of its own.
#[derive(Debug, Clone, Default)]
pub struct BusLog(Arc<Mutex<Vec<Sent>>>);

/// A message that the adapter sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sent {
    /// When its last bit was out, µs.
    pub at_us: u64,
    /// Header bytes, or the two or four bytes of a CAN identifier; none for the address byte sent at 5 baud.
    pub header: Vec<u8>,
    /// The message without length, filling and checksum; its first byte is the service.
    pub data: Vec<u8>,
    /// Why it was sent.
    pub purpose: Purpose,
}

/// Why the adapter sent something.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// The program asked for it.
    Request,
    /// It lets a controller go on with a long answer (ISO 15765-2).
    FlowControl,
    /// It wakes the bus: the address at 5 baud (ISO 9141-2, ISO 14230-4) or the start of communication after the fast
    /// pulse (ISO 14230-4).
    Wake,
    /// It keeps a woken bus from falling asleep, without anybody asking.
    KeepAwake,
}

impl BusLog {
    /// All messages so far.
    pub fn messages(&self) -> Vec<Sent> {
        self.lock().clone()
    }

    pub(super) fn add(&self, at_us: u64, header: &[u8], data: &[u8], purpose: Purpose) {
        self.lock().push(Sent {
            at_us,
            header: header.to_vec(),
            data: data.to_vec(),
            purpose,
        });
    }

    fn lock(&self) -> MutexGuard<'_, Vec<Sent>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
