//! How long an answer on the buses before CAN is, where the standard fixes it.

use crate::pid::{Pid, table};

/// Most bytes of a message on these buses.
const MOST: usize = 7;

/// Whether an answer of these bytes can answer the request, by its length (SAE J1979: one parameter
/// a message with all its bytes, three trouble codes a message, four bytes behind a message count).
pub(super) fn fits(request: &[u8], payload: &[u8]) -> bool {
    let length = payload.len();
    match (request, payload) {
        (_, [0x7F, ..]) => (3..=MOST).contains(&length),
        ([0x01, pid, ..], _) => parameter_fits(*pid, length, 2),
        ([0x02, pid, ..], _) => parameter_fits(*pid, length, 3),
        ([0x03 | 0x06 | 0x07, ..], _) => length == MOST,
        ([0x04, ..], _) => length == 1,
        ([0x09, info_type, ..], _) => length == if info_type % 2 == 0 { MOST } else { 3 },
        _ => true,
    }
}

fn parameter_fits(pid: u8, length: usize, before: usize) -> bool {
    let Some(data) = length.checked_sub(before) else {
        return false;
    };
    match table::row(Pid(pid)) {
        Some(row) => row
            .lengths
            .iter()
            .any(|allowed| usize::from(*allowed) == data),
        None => true,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // lengths by SAE J1979
    #[test]
    fn each_service_has_its_length() {
        for (request, payload, expected) in [
            (&[0x01, 0x0C][..], &[0x41, 0x0C, 0x1A, 0xF8][..], true),
            (&[0x01, 0x0C], &[0x41, 0x0C, 0x1A, 0xF8, 0x22], false),
            (&[0x01, 0x0C], &[0x41], false),
            (&[0x01, 0x00], &[0x41, 0x00, 1, 2, 3, 4], true),
            (&[0x02, 0x0C, 0x00], &[0x42, 0x0C, 0x00, 0x1A, 0xF8], true),
            (&[0x03], &[0x43, 0, 0, 0, 0, 0], false),
            (&[0x09, 0x02], &[0x49, 0x02, 1, 0, 0, 0, 0x30], true),
            (&[0x09, 0x01], &[0x49, 0x01, 5], true),
            (&[0x01, 0x0C], &[0x7F, 0x01, 0x0C, 0, 0, 0x12], true),
        ] {
            assert_eq!(fits(request, payload), expected, "{payload:02X?}");
        }
    }
}
