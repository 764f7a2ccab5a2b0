//! Service 09: identification number, calibration, its check number, the controller's name.

use crate::simulator::car::fleet::CarSpec;

use super::{is_mask, support_mask};

/// Information types of service 09 that the controller supports (SAE J1979).
const SUPPORTED: [u8; 4] = [0x02, 0x04, 0x06, 0x0A];

/// The answer to one information type, without the answer byte; on CAN the count of data items comes first.
pub fn encode(info_type: u8, spec: &CarSpec) -> Option<Vec<u8>> {
    let text = |text: &str, length: usize| {
        let mut bytes = vec![info_type, 1];
        bytes.extend(text.bytes().chain(std::iter::repeat(0)).take(length));
        bytes
    };
    match info_type {
        0x00 => {
            let mask = support_mask(0, SUPPORTED.into_iter());
            Some([&[0x00], &mask[..]].concat())
        }
        mask if is_mask(mask) => None,
        0x02 => Some(text(spec.vin, 17)),
        0x04 => Some(text(spec.calibration, 16)),
        0x06 => Some([&[0x06, 0x01], &check_number(spec.calibration)[..]].concat()),
        0x0A => Some(text("ECM\0-EngineControl", 20)),
        _ => None,
    }
}

/// Every message of the answer on the buses before CAN: an odd type holds how many messages the next even one has; an
/// even one sends its data four bytes a message, each with its count from 1 (SAE J1979, from memory).
pub fn counted(info_type: u8, spec: &CarSpec) -> Vec<Vec<u8>> {
    let even = |info_type| data_on_older_buses(info_type, spec);
    if info_type % 2 == 1 {
        let Some(data) = info_type.checked_add(1).and_then(even) else {
            return Vec::new();
        };
        return vec![vec![0x49, info_type, (data.len() / 4) as u8]];
    }
    let data = even(info_type).unwrap_or_default();
    let message = |(part, count): (&[u8], u8)| [&[0x49, info_type, count], part].concat();
    data.chunks(4).zip(1..).map(message).collect()
}

/// What an even information type holds, in whole messages; the identification number has three bytes of filling before.
fn data_on_older_buses(info_type: u8, spec: &CarSpec) -> Option<Vec<u8>> {
    Some(match info_type {
        0x00 => support_mask(0, SUPPORTED.into_iter().flat_map(|item| [item - 1, item])).to_vec(),
        0x02 => [&[0, 0, 0], spec.vin.as_bytes()].concat(),
        item if SUPPORTED.contains(&item) => encode(item, spec)?.split_off(2),
        _ => return None,
    })
}

/// Stands for the check sum of the calibration.
fn check_number(calibration: &str) -> [u8; 4] {
    let sum = calibration.bytes().fold(0x811C_9DC5_u32, |sum, byte| {
        (sum ^ u32::from(byte)).wrapping_mul(0x0100_0193)
    });
    sum.to_be_bytes()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::simulator::car::fleet;

    // SAE J1979 before CAN: five messages of an identification number, the first with three bytes of filling.
    #[test]
    fn before_can_long_information_comes_in_counted_messages() {
        let spec = fleet::car("van3").unwrap();
        assert_eq!(counted(0x01, spec), [[0x49, 0x01, 5]]);
        assert_eq!(
            counted(0x02, spec),
            [
                *b"\x49\x02\x01\0\0\x000",
                *b"\x49\x02\x0200HR",
                *b"\x49\x02\x03BRVA",
                *b"\x49\x02\x04N300",
                *b"\x49\x02\x050003",
            ]
        );
        // types 01 to 06, 09 and 0A
        assert_eq!(counted(0x00, spec), [[0x49, 0x00, 1, 0xFC, 0xC0, 0, 0]]);
        assert_eq!(counted(0x03, spec), [[0x49, 0x03, 4]]);
        for unknown in [0x07, 0x08, 0x20, 0xFF] {
            assert!(counted(unknown, spec).is_empty());
        }
    }
}
