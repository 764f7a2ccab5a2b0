//! Data identifiers of service 22 (ISO 14229-1) under which newer cars keep the items of SAE J1979:
//! the high byte names the kind, the low byte is the number that the item has there (SAE J1979-2 and
//! ISO 14229-1, table of data identifiers; from memory).

use super::services::Services;

/// Read data by identifier.
pub(crate) const READ: u8 = 0x22;

/// The answer to [`READ`].
pub(crate) const READ_ANSWER: u8 = 0x62;

/// A kind of item, with its numbers 00 to FF. Numbers 00, 20, … are support masks in each.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    /// F4xx: the parameters of service 01.
    Current,
    /// F6xx: the monitors of service 06.
    Monitor,
    /// F8xx: the information types of service 09.
    Information,
}

impl Kind {
    /// The high byte of its identifiers.
    pub const fn high(self) -> u8 {
        match self {
            Self::Current => 0xF4,
            Self::Monitor => 0xF6,
            Self::Information => 0xF8,
        }
    }

    /// The service that brings the same items on cars of SAE J1979.
    pub const fn service(self) -> u8 {
        match self {
            Self::Current => 0x01,
            Self::Monitor => 0x06,
            Self::Information => 0x09,
        }
    }

    /// The kind that brings the items of a service of SAE J1979.
    const fn of_service(service: u8) -> Self {
        match service {
            0x01 => Self::Current,
            0x06 => Self::Monitor,
            _ => Self::Information,
        }
    }

    /// The kind of identifiers with this high byte. F5xx, for parameters beyond FF, has no table
    /// here.
    pub const fn of_high(high: u8) -> Option<Self> {
        match high {
            0xF4 => Some(Self::Current),
            0xF6 => Some(Self::Monitor),
            0xF8 => Some(Self::Information),
            _ => None,
        }
    }
}

/// The request for items of one kind.
pub(crate) fn request(kind: Kind, numbers: impl IntoIterator<Item = u8>) -> Vec<u8> {
    let identifiers = numbers.into_iter().flat_map(|number| [kind.high(), number]);
    [READ].into_iter().chain(identifiers).collect()
}

/// The request for support mask `base` (00, 20, …) of service 01, 06 or 09, or of its identifiers.
pub(crate) fn mask_request(services: Services, service: u8, base: u8) -> Vec<u8> {
    match services {
        Services::SaeJ1979 => vec![service, base],
        Services::Iso14229 => request(Kind::of_service(service), [base]),
    }
}

/// The mask in the answer to [`mask_request`].
pub(crate) fn mask_of(
    services: Services,
    service: u8,
    base: u8,
    payload: &[u8],
) -> Option<[u8; 4]> {
    let mask = match services {
        Services::SaeJ1979 => payload.strip_prefix(&[service.checked_add(0x40)?, base]),
        Services::Iso14229 => {
            payload.strip_prefix(&[READ_ANSWER, Kind::of_service(service).high(), base])
        }
    };
    mask?.try_into().ok()
}
