//! Which monitor and test identifiers of service 06 mean what (SAE J1979, Appendix D, and the
//! standard's list of test identifiers; from memory).

/// Monitors that stand alone or are counted by bank or cylinder: first and last identifier, words,
/// and whether a number follows them.
const MONITORS: &[(u8, u8, &str, Count)] = &[
    (0x01, 0x10, "oxygen sensor", Count::BankAndSensor),
    (0x21, 0x24, "catalyst bank", Count::FromOne),
    (0x31, 0x34, "exhaust gas recirculation bank", Count::FromOne),
    (0x35, 0x38, "valve timing bank", Count::FromOne),
    (0x39, 0x39, "evaporative system, cap off", Count::None),
    (0x3A, 0x3A, "evaporative system, 2.3 mm leak", Count::None),
    (0x3B, 0x3B, "evaporative system, 1.0 mm leak", Count::None),
    (0x3C, 0x3C, "evaporative system, 0.5 mm leak", Count::None),
    (0x3D, 0x3D, "purge flow", Count::None),
    (0x41, 0x50, "oxygen sensor heater", Count::BankAndSensor),
    (0x61, 0x64, "heated catalyst bank", Count::FromOne),
    (0x71, 0x74, "secondary air", Count::FromOne),
    (0x81, 0x84, "fuel system bank", Count::FromOne),
    (0x85, 0x86, "boost pressure control bank", Count::FromOne),
    (0x90, 0x91, "NOx adsorber bank", Count::FromOne),
    (0x98, 0x99, "NOx catalyst bank", Count::FromOne),
    (0xA1, 0xA1, "all cylinders", Count::None),
    (0xA2, 0xAD, "cylinder", Count::FromOne),
    (0xB0, 0xB1, "particulate filter bank", Count::FromOne),
];

/// What number stands behind a monitor's words.
#[derive(Debug, Clone, Copy)]
enum Count {
    None,
    FromOne,
    /// Four sensors to a bank.
    BankAndSensor,
}

/// The last test that the standard names (SAE J1979, test identifiers 01 to 0C).
pub const LAST_NAMED_TEST: u8 = TESTS.len() as u8;

/// Tests with the same meaning for every monitor that has them, from identifier 01.
const TESTS: [&str; 12] = [
    "rich to lean threshold voltage",
    "lean to rich threshold voltage",
    "low voltage for switch time",
    "high voltage for switch time",
    "rich to lean switch time",
    "lean to rich switch time",
    "lowest voltage of the test cycle",
    "highest voltage of the test cycle",
    "time between transitions",
    "sensor period",
    "misfires, average of the last ten driving cycles",
    "misfires, this driving cycle",
];

/// Monitor of the misfires of all cylinders.
pub const MISFIRE_ALL: u8 = 0xA1;
/// Test that averages misfires over the last ten driving cycles.
pub const MISFIRE_AVERAGE: u8 = 0x0B;
/// Test that counts misfires in this driving cycle.
pub const MISFIRE_THIS_CYCLE: u8 = 0x0C;

/// The cylinder whose misfires a monitor counts: A2 is cylinder 1, up to AD for cylinder 12.
pub const fn misfire_cylinder(mid: u8) -> Option<u8> {
    match mid {
        0xA2..=0xAD => Some(mid - MISFIRE_ALL),
        _ => None,
    }
}

/// Whether a test of a monitor counts misfires, in two bytes and by ones.
pub const fn is_misfire_count(mid: u8, tid: u8) -> bool {
    (mid == MISFIRE_ALL || misfire_cylinder(mid).is_some())
        && matches!(tid, MISFIRE_AVERAGE | MISFIRE_THIS_CYCLE)
}

/// What a test value is, in words; `None` for monitors that are not named here. A test that the
/// maker defines is named by its number.
pub fn name(mid: u8, tid: u8) -> Option<String> {
    let monitor = monitor_name(mid)?;
    let test = usize::from(tid).checked_sub(1).and_then(|at| TESTS.get(at));
    Some(match test {
        Some(words) => format!("{monitor}: {words}"),
        None => format!("{monitor}: test {tid:02X}"),
    })
}

/// What a monitor watches, in words; `None` for one that is not named here.
pub fn monitor_name(mid: u8) -> Option<String> {
    let (first, _, words, count) = MONITORS
        .iter()
        .find(|(first, last, ..)| (*first..=*last).contains(&mid))?;
    let number = mid - first;
    Some(match count {
        Count::None => (*words).to_owned(),
        Count::FromOne => format!("{words} {}", number + 1),
        Count::BankAndSensor => {
            format!("{words} bank {} sensor {}", number / 4 + 1, number % 4 + 1)
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn misfire_counters_name_their_cylinder() {
        assert_eq!(misfire_cylinder(0xA2), Some(1));
        assert_eq!(misfire_cylinder(0xAD), Some(12));
        assert_eq!(misfire_cylinder(MISFIRE_ALL), None);
        let words = "cylinder 3: misfires, this driving cycle";
        assert_eq!(name(0xA4, MISFIRE_THIS_CYCLE).as_deref(), Some(words));
        assert_eq!(name(0xE0, 0x01), None);
    }

    /// Identifiers by SAE J1979, Appendix D (from memory).
    #[test]
    fn sensors_are_counted_four_to_a_bank() {
        for (mid, tid, words) in [
            (
                0x01,
                0x05,
                "oxygen sensor bank 1 sensor 1: rich to lean switch time",
            ),
            (0x06, 0x80, "oxygen sensor bank 2 sensor 2: test 80"),
            (0x45, 0x00, "oxygen sensor heater bank 2 sensor 1: test 00"),
            (0x82, 0x80, "fuel system bank 2: test 80"),
            (0x3C, 0x81, "evaporative system, 0.5 mm leak: test 81"),
        ] {
            assert_eq!(name(mid, tid).as_deref(), Some(words));
        }
    }

    #[test]
    fn the_ranges_of_monitors_do_not_overlap() {
        let sorted = MONITORS.windows(2).all(|pair| pair[0].1 < pair[1].0);
        assert!(sorted && MONITORS.iter().all(|(first, last, ..)| first <= last));
    }
}
