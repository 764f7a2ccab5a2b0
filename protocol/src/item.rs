//! The name of one number that a controller can report, whatever service brought it.

use std::fmt;

use crate::pid::Pid;

/// One number a controller reports. The same item can come from a live answer, an old capture or another logger's file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Item {
    /// A quantity of a service 01 parameter.
    Current {
        /// The parameter.
        pid: Pid,
        /// Which of the parameter's quantities, counted from 0 in the order of the published table.
        part: u8,
    },
    /// A service 06 test value (CAN format).
    Monitor {
        /// Monitor identifier.
        mid: u8,
        /// Test identifier.
        tid: u8,
    },
}

impl Item {
    /// The first (for most parameters the only) quantity of a service 01 parameter.
    pub const fn current(pid: Pid) -> Self {
        Self::Current { pid, part: 0 }
    }

    /// Quantity number `part` (from 0) of a service 01 parameter.
    pub const fn part(pid: Pid, part: u8) -> Self {
        Self::Current { pid, part }
    }

    /// A service 06 test value.
    pub const fn monitor(mid: u8, tid: u8) -> Self {
        Self::Monitor { mid, tid }
    }
}

impl fmt::Display for Item {
    /// The request that brings it, as in a capture: `010C`, `06A20C`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Current { pid, .. } => write!(f, "01{pid}"),
            Self::Monitor { mid, tid } => write!(f, "06{mid:02X}{tid:02X}"),
        }
    }
}
