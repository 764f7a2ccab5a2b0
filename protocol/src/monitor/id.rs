//! Which monitor and test identifiers mean what (SAE J1979, Appendix D, from memory).

/// Tests of the misfire monitors: average of the last ten driving cycles, and this driving cycle.
const MISFIRE_TESTS: [(u8, &str); 2] = [
    (0x0B, "misfires, average of the last ten driving cycles"),
    (0x0C, "misfires, this driving cycle"),
];

/// The cylinder whose misfires a monitor counts: A2 is cylinder 1, up to AD for cylinder 12.
pub const fn misfire_cylinder(mid: u8) -> Option<u8> {
    match mid {
        0xA2..=0xAD => Some(mid - 0xA1),
        _ => None,
    }
}

/// What a test value is, in words; `None` for monitors that are not named here.
pub fn name(mid: u8, tid: u8) -> Option<String> {
    let monitor = monitor_name(mid)?;
    let test = MISFIRE_TESTS
        .iter()
        .find(|(id, _)| *id == tid && matches!(mid, 0xA1..=0xAD));
    Some(match test {
        Some((_, words)) => format!("{monitor}: {words}"),
        None => format!("{monitor}: test {tid:02X}"),
    })
}

fn monitor_name(mid: u8) -> Option<String> {
    let bank_and_sensor = |first: u8| {
        let number = mid - first;
        format!("bank {} sensor {}", number / 4 + 1, number % 4 + 1)
    };
    Some(match mid {
        0x01..=0x10 => format!("oxygen sensor {}", bank_and_sensor(0x01)),
        0x21..=0x24 => format!("catalyst bank {}", mid - 0x20),
        0x31..=0x34 => format!("exhaust gas recirculation bank {}", mid - 0x30),
        0x39..=0x3D => "evaporative system".to_owned(),
        0x41..=0x50 => format!("oxygen sensor heater {}", bank_and_sensor(0x41)),
        0x71..=0x74 => format!("secondary air {}", mid - 0x70),
        0x81..=0x84 => format!("fuel system bank {}", mid - 0x80),
        0xA1 => "all cylinders".to_owned(),
        0xA2..=0xAD => format!("cylinder {}", mid - 0xA1),
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn misfire_counters_name_their_cylinder() {
        assert_eq!(misfire_cylinder(0xA2), Some(1));
        assert_eq!(misfire_cylinder(0xAD), Some(12));
        assert_eq!(misfire_cylinder(0xA1), None);
        let words = "cylinder 3: misfires, this driving cycle";
        assert_eq!(name(0xA4, 0x0C).as_deref(), Some(words));
        assert_eq!(name(0xE0, 0x01), None);
    }

    #[test]
    fn sensors_are_counted_four_to_a_bank() {
        assert_eq!(
            name(0x06, 0x80).as_deref(),
            Some("oxygen sensor bank 2 sensor 2: test 80")
        );
    }
}
