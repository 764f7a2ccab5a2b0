//! What answers behind the line: an adapter with a simulated car, or a trace.

use crate::simulator::adapter::{TracePlayer, VirtualAdapter};

/// What answers behind the line.
#[derive(Debug)]
pub enum Behind {
    /// An adapter, plugged into a simulated car.
    Adapter(Box<VirtualAdapter>),
    /// A trace being played.
    Trace(TracePlayer),
}

impl From<VirtualAdapter> for Behind {
    fn from(adapter: VirtualAdapter) -> Self {
        Self::Adapter(Box::new(adapter))
    }
}

impl From<TracePlayer> for Behind {
    fn from(player: TracePlayer) -> Self {
        Self::Trace(player)
    }
}

impl Behind {
    /// What one byte takes on the serial line, µs; a trace's times hold that already.
    pub(super) const fn byte_us(&self) -> f64 {
        match self {
            Self::Adapter(adapter) => adapter.byte_us(),
            Self::Trace(_) => 0.0,
        }
    }

    /// Turns the ignition off or on; a trace is as it is.
    pub(super) fn set_ignition(&mut self, on: bool) {
        if let Self::Adapter(adapter) = self {
            adapter.set_ignition(on);
        }
    }

    /// When the next bytes are due, µs.
    pub(super) fn due_us(&self) -> Option<u64> {
        match self {
            Self::Adapter(adapter) => adapter.due_us(),
            Self::Trace(player) => player.due_us(),
        }
    }

    /// When the last bytes that are now on their way are due, µs.
    pub(super) fn settled_us(&self) -> Option<u64> {
        match self {
            Self::Adapter(adapter) => adapter.settled_us(),
            Self::Trace(player) => player.settled_us(),
        }
    }

    /// Takes what is due by `now_us`.
    pub(super) fn take_due(&mut self, now_us: u64) -> Vec<u8> {
        match self {
            Self::Adapter(adapter) => adapter.take_due(now_us),
            Self::Trace(player) => player.take_due(now_us),
        }
    }

    /// Bytes that the line hands on together.
    pub(super) fn burst(&self, now_us: u64) -> usize {
        match self {
            Self::Adapter(adapter) => adapter.burst(now_us),
            Self::Trace(_) => usize::MAX,
        }
    }

    /// A byte has come in.
    pub(super) fn receive(&mut self, byte: u8, now_us: u64) {
        match self {
            Self::Adapter(adapter) => adapter.receive(byte, now_us),
            Self::Trace(player) => player.receive(byte, now_us),
        }
    }
}
