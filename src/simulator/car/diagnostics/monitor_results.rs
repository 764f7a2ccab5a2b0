//! Service 06. On CAN: monitor identifier, then test, unit, value, lowest and highest allowed, again and again. Before
//! CAN every manufacturer gives its tests numbers and meanings of its own.

use super::{is_mask, misfire_counters::MisfireCounters, support_mask};

/// Oxygen sensor, bank 1 sensor 1.
const OXYGEN_SENSOR: u8 = 0x01;
/// Catalyst, bank 1.
const CATALYST: u8 = 0x21;
/// Misfires of the whole engine; the cylinders follow.
const MISFIRE: u8 = 0xA1;
/// Unit and scaling identifier of service 06: volts in steps of 0.122 mV (SAE J1979).
const MILLIVOLT: u8 = 0x0A;
/// Unit and scaling identifier of service 06: ratio in steps of 0.0039 (SAE J1979).
const RATIO: u8 = 0x20;
/// Unit and scaling identifier of service 06: counts (SAE J1979).
const COUNTS: u8 = 0x24;

/// The answer to one monitor identifier, without the answer byte; `None` when the controller does not have it.
pub fn encode(mid: u8, counters: &MisfireCounters) -> Option<Vec<u8>> {
    let cylinders = counters.len() as u8;
    let supported = || {
        let misfire = MISFIRE..=MISFIRE + cylinders;
        [OXYGEN_SENSOR, CATALYST].into_iter().chain(misfire)
    };
    if is_mask(mid) {
        let reaches = mid == 0 || supported().any(|item| item > mid);
        return reaches.then(|| [&[mid], &support_mask(mid, supported())[..]].concat());
    }
    match mid {
        // Rich-to-lean threshold, 0.450 V, fixed.
        OXYGEN_SENSOR => Some(record(mid, 0x01, MILLIVOLT, [3688, 3688, 3688])),
        // Value and both limits zero: the test has not run.
        CATALYST => Some(record(mid, 0x80, RATIO, [0, 0, 0])),
        MISFIRE => {
            let all = (1..=cylinders).filter_map(|number| counters.of(number));
            let sum = all.fold((0_u16, 0_u16), |sum, one| {
                (sum.0.saturating_add(one.0), sum.1.saturating_add(one.1))
            });
            Some(misfire(mid, sum))
        }
        cylinder if supported().any(|item| item == cylinder) => {
            counters.of(cylinder - MISFIRE).map(|one| misfire(mid, one))
        }
        _ => None,
    }
}

/// Test 0B is the average of the last ten driving cycles, 0C the count of this one.
fn misfire(mid: u8, (average, current): (u16, u16)) -> Vec<u8> {
    let average = record(mid, 0x0B, COUNTS, [average, 0, 0xFFFF]);
    let current = record(mid, 0x0C, COUNTS, [current, 0, 0xFFFF]);
    [average, current].concat()
}

/// This manufacturer's test before CAN: the catalyst.
const OLDER_CATALYST: u8 = 0x02;
/// This manufacturer's test before CAN: the oxygen sensor.
const OLDER_SENSOR: u8 = 0x05;
/// This manufacturer's first test before CAN of misfires of a cylinder, in its own scaling.
const OLDER_MISFIRES: u8 = 0xA2;

/// The answer to one test on the buses before CAN: test, kind of limit and component, value, limit; for the mask `FF`
/// stands before it (SAE J1979, from memory).
pub fn older(test: u8, counters: &MisfireCounters) -> Option<Vec<u8>> {
    let cylinders = counters.len() as u8;
    let supported = || {
        let misfires = OLDER_MISFIRES..OLDER_MISFIRES + cylinders;
        [OLDER_CATALYST, OLDER_SENSOR].into_iter().chain(misfires)
    };
    if is_mask(test) {
        let reaches = test == 0 || supported().any(|item| item > test);
        let mask = support_mask(test, supported());
        return reaches.then(|| [&[0x46, test, 0xFF], &mask[..]].concat());
    }
    let (component, value, limit) = match test {
        OLDER_CATALYST => (0x01, 0x0012_u16, 0x0090_u16),
        OLDER_SENSOR => (0x81, 0x0241, 0x0100),
        cylinder if supported().any(|item| item == cylinder) => {
            // eighths of a misfire
            let (_, current) = counters.of(cylinder - OLDER_MISFIRES + 1)?;
            (0x00, current.saturating_mul(8), 0x7D00)
        }
        _ => return None,
    };
    let mut bytes = vec![0x46, test, component];
    bytes.extend(
        [value, limit]
            .iter()
            .flat_map(|number| number.to_be_bytes()),
    );
    Some(bytes)
}

fn record(mid: u8, tid: u8, unit: u8, numbers: [u16; 3]) -> Vec<u8> {
    let mut bytes = vec![mid, tid, unit];
    bytes.extend(numbers.iter().flat_map(|number| number.to_be_bytes()));
    bytes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::simulator::car::fleet;

    /// Layout by SAE J1979 service 06 on CAN: MID, TID, unit id, value, minimum, maximum, 9 bytes a test.
    #[test]
    fn misfire_counters_are_reported_cylinder_by_cylinder() {
        let mut counters = MisfireCounters::new(fleet::car("van3").unwrap(), |_| 7.0);
        counters.count(&[3; 300], 1.0);
        let answer = encode(0xA4, &counters).unwrap();
        assert_eq!(
            answer,
            [
                0xA4, 0x0B, 0x24, 0x00, 0x07, 0x00, 0x00, 0xFF, 0xFF, //
                0xA4, 0x0C, 0x24, 0x01, 0x2C, 0x00, 0x00, 0xFF, 0xFF,
            ]
        );
        assert_eq!(encode(0xA0, &counters).unwrap(), [0xA0, 0xF8, 0, 0, 0]);
        assert_eq!(encode(0x00, &counters).unwrap(), [0x00, 0x80, 0, 0, 1]);
        assert_eq!(encode(0xA6, &counters), None);
        assert_eq!(encode(0xC0, &counters), None);
    }

    // SAE J1979 before CAN: seven bytes a message; the mask behind FF.
    #[test]
    fn before_can_the_tests_are_the_makers_own() {
        let mut counters = MisfireCounters::new(fleet::car("van3").unwrap(), |_| 0.0);
        counters.count(&[3; 3], 1.0);
        assert_eq!(
            older(0x00, &counters).unwrap(),
            [0x46, 0x00, 0xFF, 0x48, 0, 0, 1]
        );
        assert_eq!(
            older(0xA4, &counters).unwrap(),
            [0x46, 0xA4, 0x00, 0x00, 0x18, 0x7D, 0x00]
        );
        assert_eq!(older(0xA6, &counters), None);
    }
}
