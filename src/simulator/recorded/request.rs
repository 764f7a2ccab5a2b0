//! What a request asks for: items of a service, of which some can be asked several at once and others alone.

use pintle_protocol::pid::support::is_mask;

/// Service of current values (SAE J1979).
const CURRENT: u8 = 0x01;
/// Service of data by identifier (ISO 14229-1), whose identifiers F4xx are the parameters of service 01 (SAE J1979-2).
const BY_IDENTIFIER: u8 = 0x22;
/// High byte of the identifiers that are the parameters of service 01 (SAE J1979-2).
const CURRENT_HIGH: u8 = 0xF4;

/// Items that share one row of support masks: those of services 01, 02, 06, 09, or of one high byte of service 22.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct ServiceFamily {
    service: u8,
    /// The frame of service 02, the high byte of service 22; else 0.
    which: u8,
}

impl ServiceFamily {
    /// The family and the number of the one item that is asked for; `None` where none or several are.
    pub fn of(request: &[u8]) -> Option<(Self, u8)> {
        let (service, which, item) = match *request {
            [service @ (CURRENT | 0x06 | 0x09), item] => (service, 0, item),
            [service @ 0x02, item, frame] => (service, frame, item),
            [service @ BY_IDENTIFIER, high, item] => (service, high, item),
            _ => return None,
        };
        Some((Self { service, which }, item))
    }

    /// The answer that says which of the 32 items after `base` there are.
    pub fn mask_answer(self, base: u8, mask: [u8; 4], is_can: bool) -> Vec<u8> {
        let answer = self.service.wrapping_add(0x40);
        let before = match self.service {
            BY_IDENTIFIER => vec![answer, self.which, base],
            0x02 => vec![answer, base, self.which],
            // before CAN the component that a test is about stands here (SAE J1979)
            0x06 if !is_can => vec![answer, base, 0xFF],
            _ => vec![answer, base],
        };
        [before, mask.to_vec()].concat()
    }
}

/// Whether a request only asks what is supported.
pub(super) fn asks_for_mask(request: &[u8]) -> bool {
    ServiceFamily::of(request).is_some_and(|(_, item)| is_mask(item))
}

/// The requests for single current values that a request for several stands for; empty for any other request.
pub(super) fn parts(request: &[u8]) -> Vec<Vec<u8>> {
    match request {
        [CURRENT, pids @ ..] if pids.len() > 1 => {
            pids.iter().map(|pid| vec![CURRENT, *pid]).collect()
        }
        [BY_IDENTIFIER, rest @ ..] if rest.len() > 2 => {
            let (pairs, odd) = rest.as_chunks::<2>();
            let current = odd.is_empty() && pairs.iter().all(|[high, _]| *high == CURRENT_HIGH);
            let part = |[high, item]: &[u8; 2]| vec![BY_IDENTIFIER, *high, *item];
            pairs.iter().filter(|_| current).map(part).collect()
        }
        _ => Vec::new(),
    }
}

/// Whether two requests for current values belong to the same services.
pub(super) fn alike(one: &[u8], other: &[u8]) -> bool {
    one.first() == other.first()
}

/// The answer to a request for one current value with these data.
pub(super) fn answer_alone(request: &[u8], data: &[u8]) -> Vec<u8> {
    let (service, item) = request.split_first().unwrap_or((&0, &[]));
    [&[service.wrapping_add(0x40)], item, data].concat()
}

#[cfg(test)]
mod tests {
    use super::*;

    // Requests by SAE J1979 and ISO 14229-1.
    #[test]
    fn requests_for_several_values_are_taken_apart_and_others_are_not() {
        assert_eq!(parts(&[0x01, 0x0C, 0x0D]), [[0x01, 0x0C], [0x01, 0x0D]]);
        assert_eq!(
            parts(&[0x22, 0xF4, 0x0C, 0xF4, 0x0D]),
            [[0x22, 0xF4, 0x0C], [0x22, 0xF4, 0x0D]]
        );
        for alone in [
            &[][..],
            &[0x01],
            &[0x01, 0x0C],
            &[0x22, 0xF4, 0x0C],
            &[0x22, 0xF4, 0x0C, 0xF8, 0x02],
            &[0x22, 0xF4, 0x0C, 0xF4],
            &[0x19, 0x42, 0x33, 0x08, 0x1E],
        ] {
            assert!(parts(alone).is_empty(), "{alone:?}");
        }
    }

    #[test]
    fn masks_are_distinguished_from_items() {
        for mask in [
            &[0x01, 0x00][..],
            &[0x06, 0xA0],
            &[0x22, 0xF4, 0x20],
            &[0x02, 0x00, 0x00],
        ] {
            assert!(asks_for_mask(mask), "{mask:?}");
        }
        for other in [&[0x01, 0x0C][..], &[0x03], &[0x01, 0x00, 0x0C], &[]] {
            assert!(!asks_for_mask(other), "{other:?}");
        }
    }
}
