//! What can be asked, and the bytes of the question (SAE J1979 / ISO 15031-5; ISO 14229-1 as SAE
//! J1979-2 uses it, from memory).

use super::{
    identifier::{self, Kind},
    services::Services,
};
use crate::pid::Pid;

/// Most parameters that one request asks, whatever the services.
pub const MOST_PARAMETERS: usize = 6;

/// Emissions-related systems as a functional group (ISO 14229-1).
pub(super) const EMISSIONS: u8 = 0x33;

/// Subfunction of service 19: codes of a functional group by masks of status and severity
/// (ISO 14229-1).
pub(super) const BY_MASK: u8 = 0x42;

/// Subfunction of service 19: codes of a functional group with permanent status (ISO 14229-1).
pub(super) const PERMANENT: u8 = 0x55;

/// Subfunction of service 19: codes by a mask of status alone (ISO 14229-1).
pub(super) const BY_STATUS: u8 = 0x02;

/// Subfunction of service 19: what was noted down for one code (ISO 14229-1).
pub(super) const SNAPSHOTS: u8 = 0x04;

/// Bit of a code's status: pending (ISO 14229-1, D.2).
pub(super) const PENDING: u8 = 0x04;

/// Bit of a code's status: confirmed (ISO 14229-1, D.2).
pub(super) const CONFIRMED: u8 = 0x08;

/// Severity mask that takes every class of emissions-related codes, 1 to 4 (ISO 14229-1, D.3).
const EVERY_CLASS: u8 = 0x1E;

/// Record number that stands for all records.
const ALL_RECORDS: u8 = 0xFF;

/// A question to the controllers, or the command to clear.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Request {
    /// Current values, several at once on CAN, one on the older buses.
    Current(Vec<Pid>),
    /// One value of a freeze frame, mostly frame 0 (SAE J1979 alone).
    FreezeFrame {
        /// The parameter.
        pid: Pid,
        /// Number of the frame.
        frame: u8,
    },
    /// What was noted down when a code was stored, whole (ISO 14229 alone); the code by its three
    /// bytes.
    Snapshots([u8; 3]),
    /// Confirmed trouble codes.
    StoredCodes,
    /// Clear codes, freeze frames and results. The only request that changes anything.
    Clear,
    /// Results of one monitor, on CAN.
    Monitor(u8),
    /// Codes of this or the last driving cycle.
    PendingCodes,
    /// Vehicle information of a type.
    Information(u8),
    /// Permanent trouble codes.
    PermanentCodes,
}

impl Request {
    /// The bytes to send to a car with these services; `None` for what these services cannot ask,
    /// for no parameters, or for more than fit.
    pub fn bytes(&self, services: Services) -> Option<Vec<u8>> {
        match services {
            Services::SaeJ1979 => self.of_sae_j1979(),
            Services::Iso14229 => self.of_iso_14229(),
        }
    }

    fn of_sae_j1979(&self) -> Option<Vec<u8>> {
        Some(match self {
            Self::Current(pids) => {
                let pids = fitting(pids, Services::SaeJ1979)?;
                [0x01].into_iter().chain(pids).collect()
            }
            Self::FreezeFrame { pid, frame } => vec![0x02, pid.0, *frame],
            Self::Snapshots(_) => return None,
            Self::StoredCodes => vec![0x03],
            Self::Clear => vec![0x04],
            Self::Monitor(mid) => vec![0x06, *mid],
            Self::PendingCodes => vec![0x07],
            Self::Information(info_type) => vec![0x09, *info_type],
            Self::PermanentCodes => vec![0x0A],
        })
    }

    fn of_iso_14229(&self) -> Option<Vec<u8>> {
        Some(match self {
            Self::Current(pids) => {
                identifier::request(Kind::Current, fitting(pids, Services::Iso14229)?)
            }
            Self::FreezeFrame { .. } => return None,
            Self::Snapshots([a, b, c]) => vec![0x19, SNAPSHOTS, *a, *b, *c, ALL_RECORDS],
            Self::StoredCodes => vec![0x19, BY_MASK, EMISSIONS, CONFIRMED, EVERY_CLASS],
            Self::Clear => vec![0x14, 0xFF, 0xFF, EMISSIONS],
            Self::Monitor(mid) => identifier::request(Kind::Monitor, [*mid]),
            Self::PendingCodes => vec![0x19, BY_MASK, EMISSIONS, PENDING, EVERY_CLASS],
            Self::Information(info_type) => identifier::request(Kind::Information, [*info_type]),
            Self::PermanentCodes => vec![0x19, PERMANENT, EMISSIONS],
        })
    }
}

/// Whether these bytes ask for something to be changed in the car: service 04 and service 14 clear.
pub const fn changes_the_car(request: &[u8]) -> bool {
    matches!(request, [0x04 | 0x14, ..])
}

fn fitting(pids: &[Pid], services: Services) -> Option<impl Iterator<Item = u8> + '_> {
    let fits = (1..=services.most_parameters()).contains(&pids.len());
    fits.then(|| pids.iter().map(|pid| pid.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Service numbers of SAE J1979; identifiers, subfunctions and the group of emissions-related
    /// codes of ISO 14229-1 and SAE J1979-2 (from memory).
    #[test]
    fn each_question_has_the_bytes_of_the_standard() {
        let frozen = Request::FreezeFrame {
            pid: Pid(0x0C),
            frame: 0,
        };
        let snapshots = Request::Snapshots([0x03, 0x01, 0x00]);
        for (request, older, newer) in [
            (
                Request::Current(vec![Pid(0x0C)]),
                Some(&[0x01, 0x0C][..]),
                Some(&[0x22, 0xF4, 0x0C][..]),
            ),
            (frozen, Some(&[0x02, 0x0C, 0x00]), None),
            (snapshots, None, Some(&[0x19, 0x04, 0x03, 0x01, 0x00, 0xFF])),
            (
                Request::StoredCodes,
                Some(&[0x03]),
                Some(&[0x19, 0x42, 0x33, 0x08, 0x1E]),
            ),
            (
                Request::Clear,
                Some(&[0x04]),
                Some(&[0x14, 0xFF, 0xFF, 0x33]),
            ),
            (
                Request::Monitor(0xA2),
                Some(&[0x06, 0xA2]),
                Some(&[0x22, 0xF6, 0xA2]),
            ),
            (
                Request::PendingCodes,
                Some(&[0x07]),
                Some(&[0x19, 0x42, 0x33, 0x04, 0x1E]),
            ),
            (
                Request::Information(0x02),
                Some(&[0x09, 0x02]),
                Some(&[0x22, 0xF8, 0x02]),
            ),
            (
                Request::PermanentCodes,
                Some(&[0x0A]),
                Some(&[0x19, 0x55, 0x33]),
            ),
        ] {
            assert_eq!(request.bytes(Services::SaeJ1979).as_deref(), older);
            assert_eq!(request.bytes(Services::Iso14229).as_deref(), newer);
            for bytes in [older, newer].into_iter().flatten() {
                assert_eq!(changes_the_car(bytes), request == Request::Clear);
                // one CAN frame
                assert!(bytes.len() <= 7);
            }
        }
    }

    #[test]
    fn as_many_parameters_as_fit_into_one_frame_can_be_asked_at_once() {
        let many = |count: u8, services| {
            let pids = (1..=count).map(Pid).collect();
            Request::Current(pids).bytes(services)
        };
        assert_eq!(many(0, Services::SaeJ1979), None);
        let six = many(6, Services::SaeJ1979);
        assert_eq!(six, Some(vec![1, 1, 2, 3, 4, 5, 6]));
        assert_eq!(many(7, Services::SaeJ1979), None);
        let three = many(3, Services::Iso14229);
        assert_eq!(three, Some(vec![0x22, 0xF4, 1, 0xF4, 2, 0xF4, 3]));
        assert_eq!(many(4, Services::Iso14229), None);
    }
}
