//! Service 09: identification number, calibration, its check number, the controller's name.

use crate::simulator::fleet::CarSpec;

use super::{is_mask, support_mask};

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

/// Stands for the check sum of the calibration.
fn check_number(calibration: &str) -> [u8; 4] {
    let sum = calibration.bytes().fold(0x811C_9DC5_u32, |sum, byte| {
        (sum ^ u32::from(byte)).wrapping_mul(0x0100_0193)
    });
    sum.to_be_bytes()
}
