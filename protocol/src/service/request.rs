//! What can be asked, and the bytes of the question (SAE J1979 / ISO 15031-5).

use crate::pid::Pid;

/// Most parameters that one request asks.
pub const MOST_PARAMETERS: usize = 6;

/// A question to the controllers, or the command to clear.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Request {
    /// Service 01: current values, up to six at once on CAN, one on the older buses.
    Current(Vec<Pid>),
    /// Service 02: one value of a freeze frame, mostly frame 0.
    FreezeFrame {
        /// The parameter.
        pid: Pid,
        /// Number of the frame.
        frame: u8,
    },
    /// Service 03: confirmed trouble codes.
    StoredCodes,
    /// Service 04: clear codes, freeze frame and results. The only request that changes anything.
    Clear,
    /// Service 06 on CAN: results of one monitor.
    Monitor(u8),
    /// Service 07: codes of this or the last driving cycle.
    PendingCodes,
    /// Service 09: vehicle information of a type.
    Information(u8),
    /// Service 0A: permanent trouble codes.
    PermanentCodes,
}

impl Request {
    /// The bytes to send; `None` for no parameters or more than six.
    pub fn bytes(&self) -> Option<Vec<u8>> {
        Some(match self {
            Self::Current(pids) => return current(pids),
            Self::FreezeFrame { pid, frame } => vec![0x02, pid.0, *frame],
            Self::StoredCodes => vec![0x03],
            Self::Clear => vec![0x04],
            Self::Monitor(mid) => vec![0x06, *mid],
            Self::PendingCodes => vec![0x07],
            Self::Information(info_type) => vec![0x09, *info_type],
            Self::PermanentCodes => vec![0x0A],
        })
    }
}

fn current(pids: &[Pid]) -> Option<Vec<u8>> {
    let fits = (1..=MOST_PARAMETERS).contains(&pids.len());
    fits.then(|| {
        [0x01]
            .into_iter()
            .chain(pids.iter().map(|pid| pid.0))
            .collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Service numbers of SAE J1979.
    #[test]
    fn each_question_has_the_bytes_of_the_standard() {
        let frozen = Request::FreezeFrame {
            pid: Pid(0x0C),
            frame: 0,
        };
        for (request, bytes) in [
            (Request::Current(vec![Pid(0x0C)]), &[0x01, 0x0C][..]),
            (frozen, &[0x02, 0x0C, 0x00]),
            (Request::StoredCodes, &[0x03]),
            (Request::Clear, &[0x04]),
            (Request::Monitor(0xA2), &[0x06, 0xA2]),
            (Request::PendingCodes, &[0x07]),
            (Request::Information(0x02), &[0x09, 0x02]),
            (Request::PermanentCodes, &[0x0A]),
        ] {
            assert_eq!(request.bytes().as_deref(), Some(bytes));
        }
    }

    #[test]
    fn one_to_six_parameters_can_be_asked_at_once() {
        let many = |count: u8| Request::Current((1..=count).map(Pid).collect()).bytes();
        assert_eq!(many(0), None);
        assert_eq!(many(6), Some(vec![1, 1, 2, 3, 4, 5, 6]));
        assert_eq!(many(7), None);
    }
}
