//! The tables against worked examples of the published standards: SAE J1979 / ISO 15031-5 for
//! parameters and test values, SAE J2012 / ISO 15031-6 for trouble codes. Values marked "from
//! memory" were written down without the text at hand; all were worked by hand, none was taken
//! from the program.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use pintle_protocol::{
    Item, Pid, Unit,
    dtc::TroubleCode,
    monitor,
    pid::{support, table},
    service::{Answer, CodeList, answer, current_data, monitor_results},
};

/// The numbers of one parameter's answer, by the parts that are there.
fn parts(pid: u8, data: &[u8]) -> Vec<(u8, f64)> {
    let response = [&[0x41, pid], data].concat();
    let mut found = Vec::new();
    current_data::for_each_number(&[0x01, pid], &response, |item, value| match item {
        Item::Current { part, .. } => found.push((part, value)),
        Item::Monitor { .. } => panic!("a test value in service 01"),
    })
    .unwrap_or_else(|error| panic!("PID {pid:02X}: {error}"));
    found
}

fn assert_close(found: f64, expected: f64, what: &str) {
    let allowed = 1e-9 * expected.abs().max(1.0);
    assert!(
        (found - expected).abs() <= allowed,
        "{what}: {found}, should be {expected}"
    );
}

/// Formulas of SAE J1979, Appendix B, with A, B, C, D for the data bytes: from memory, values
/// worked by hand.
#[test]
fn measured_parameters_follow_the_published_formulas() {
    let cases: &[(u8, &[u8], u8, f64, Unit)] = &[
        // A × 100 / 255
        (0x04, &[0x33], 0, 20.0, Unit::Percent),
        (0x11, &[0xFF], 0, 100.0, Unit::Percent),
        (0x2C, &[0x66], 0, 40.0, Unit::Percent),
        (0x2E, &[0x00], 0, 0.0, Unit::Percent),
        (0x2F, &[0x99], 0, 60.0, Unit::Percent),
        (0x45, &[0x33], 0, 20.0, Unit::Percent),
        (0x52, &[0xCC], 0, 80.0, Unit::Percent),
        (0x5B, &[0xFF], 0, 100.0, Unit::Percent),
        // A − 40
        (0x05, &[0x7B], 0, 83.0, Unit::DegreeCelsius),
        (0x0F, &[0x00], 0, -40.0, Unit::DegreeCelsius),
        (0x46, &[0xFF], 0, 215.0, Unit::DegreeCelsius),
        (0x5C, &[0x82], 0, 90.0, Unit::DegreeCelsius),
        // A × 100 / 128 − 100
        (0x06, &[0x80], 0, 0.0, Unit::Percent),
        (0x07, &[0x00], 0, -100.0, Unit::Percent),
        (0x08, &[0x90, 0x70], 1, -12.5, Unit::Percent),
        (0x09, &[0x8C], 0, 9.375, Unit::Percent),
        (0x2D, &[0xC0], 0, 50.0, Unit::Percent),
        (0x55, &[0x81, 0x7F], 0, 0.78125, Unit::Percent),
        (0x58, &[0x80, 0x7F], 1, -0.78125, Unit::Percent),
        // 3 A
        (0x0A, &[0x64], 0, 300.0, Unit::Kilopascal),
        // A
        (0x0B, &[0x65], 0, 101.0, Unit::Kilopascal),
        (0x33, &[0x64], 0, 100.0, Unit::Kilopascal),
        (0x0D, &[0x32], 0, 50.0, Unit::KilometrePerHour),
        // (256 A + B) / 4
        (0x0C, &[0x1A, 0xF8], 0, 1726.0, Unit::RevolutionPerMinute),
        // A / 2 − 64
        (0x0E, &[0x94], 0, 10.0, Unit::DegreeCrank),
        (0x0E, &[0xFF], 0, 63.5, Unit::DegreeCrank),
        // (256 A + B) / 100
        (0x10, &[0x01, 0xA9], 0, 4.25, Unit::GramPerSecond),
        (0x10, &[0xFF, 0xFF], 0, 655.35, Unit::GramPerSecond),
        // A / 200 and the trim
        (0x14, &[0x5A, 0x80], 0, 0.45, Unit::Volt),
        (0x14, &[0x5A, 0x90], 1, 12.5, Unit::Percent),
        (0x1B, &[0xFF, 0x80], 0, 1.275, Unit::Volt),
        // 256 A + B
        (0x1F, &[0x01, 0x2C], 0, 300.0, Unit::Second),
        (0x21, &[0x00, 0x2A], 0, 42.0, Unit::Kilometre),
        (0x31, &[0x10, 0x00], 0, 4096.0, Unit::Kilometre),
        (0x4D, &[0x00, 0x3C], 0, 60.0, Unit::Minute),
        (0x4E, &[0x05, 0xA0], 0, 1440.0, Unit::Minute),
        // 0.079 (256 A + B)
        (0x22, &[0xFF, 0xFF], 0, 5177.265, Unit::Kilopascal),
        // 10 (256 A + B)
        (0x23, &[0x01, 0xF4], 0, 5000.0, Unit::Kilopascal),
        (0x59, &[0x01, 0x5E], 0, 3500.0, Unit::Kilopascal),
        // 2 / 65536 (256 A + B) and 8 / 65536 (256 C + D)
        (0x24, &[0x80, 0x00, 0x40, 0x00], 0, 1.0, Unit::None),
        (0x24, &[0x80, 0x00, 0x40, 0x00], 1, 2.0, Unit::Volt),
        // (256 C + D) / 256 − 128
        (0x34, &[0x7F, 0x00, 0x80, 0x00], 0, 0.9921875, Unit::None),
        (0x34, &[0x80, 0x00, 0x80, 0x00], 1, 0.0, Unit::Milliampere),
        (0x3B, &[0x80, 0x00, 0x7F, 0x00], 1, -1.0, Unit::Milliampere),
        // two's complement / 4
        (0x32, &[0xFF, 0xFC], 0, -1.0, Unit::Pascal),
        (0x32, &[0x7F, 0xFF], 0, 8191.75, Unit::Pascal),
        (0x54, &[0x80, 0x00], 0, -32768.0, Unit::Pascal),
        // (256 A + B) / 10 − 40
        (0x3C, &[0x11, 0x94], 0, 410.0, Unit::DegreeCelsius),
        (0x3F, &[0x00, 0x00], 0, -40.0, Unit::DegreeCelsius),
        // (256 A + B) / 1000
        (0x42, &[0x35, 0x20], 0, 13.6, Unit::Volt),
        // (256 A + B) × 100 / 255
        (0x43, &[0x00, 0xFF], 0, 100.0, Unit::Percent),
        (0x43, &[0x01, 0x4C], 0, 33200.0 / 255.0, Unit::Percent),
        (0x44, &[0x80, 0x00], 0, 1.0, Unit::None),
        (0x44, &[0x66, 0x66], 0, 26214.0 / 32768.0, Unit::None),
        // greatest values: A, B, C, 10 D; and 10 A
        (0x4F, &[0x02, 0x08, 0x80, 0x19], 3, 250.0, Unit::Kilopascal),
        (0x50, &[0x41, 0, 0, 0], 0, 650.0, Unit::GramPerSecond),
        // (256 A + B) / 200
        (0x53, &[0x4E, 0x20], 0, 100.0, Unit::Kilopascal),
        // (256 A + B) / 128 − 210
        (0x5D, &[0x6E, 0x80], 0, 11.0, Unit::DegreeCrank),
        // (256 A + B) / 20
        (0x5E, &[0x00, 0x64], 0, 5.0, Unit::LitrePerHour),
        // A − 125, 256 A + B
        (0x62, &[0xA0], 0, 35.0, Unit::Percent),
        (0x63, &[0x00, 0xC8], 0, 200.0, Unit::NewtonMetre),
        (
            0x64,
            &[0x7D, 0x80, 0x83, 0x86, 0x89],
            4,
            12.0,
            Unit::Percent,
        ),
        // 4-byte tenths of a kilometre
        (0xA6, &[0x00, 0x01, 0xE2, 0x40], 0, 12345.6, Unit::Kilometre),
    ];
    for (pid, data, part, expected, unit) in cases {
        let what = format!("PID {pid:02X} part {part}");
        let found = parts(*pid, data);
        let (_, value) = found.iter().find(|(one, _)| one == part).expect(&what);
        assert_close(*value, *expected, &what);
        let row = table::row(Pid(*pid)).unwrap();
        assert_eq!(row.quantities[usize::from(*part)].unit, *unit, "{what}");
    }
}

/// Parameters whose first byte says what follows (SAE J1979-DA, from memory).
#[test]
fn quantities_are_there_only_when_their_bit_says_so() {
    // Air flow sensor A alone at 3.125 g/s; then B alone.
    assert_eq!(parts(0x66, &[0x01, 0x00, 0x64, 0x00, 0x00]), [(0, 3.125)]);
    assert_eq!(parts(0x66, &[0x02, 0x00, 0x64, 0x00, 0x20]), [(1, 1.0)]);
    assert_eq!(parts(0x67, &[0x03, 0x7B, 0x7A]), [(0, 83.0), (1, 82.0)]);
    assert_eq!(parts(0x67, &[0x00, 0x7B, 0x7A]), []);
    // Manifold pressure sensor A at 100 kPa: 3200 / 32.
    assert_eq!(parts(0x87, &[0x01, 0x0C, 0x80, 0, 0]), [(0, 100.0)]);
    // A differential pressure just below zero is not 655 kPa.
    let below_zero = parts(0x7A, &[0x01, 0xFF, 0xFE, 0, 0, 0, 0]);
    assert_eq!(below_zero.len(), 1);
    assert_close(below_zero[0].1, -0.02, "PID 7A");
}

/// SAE J1979, PIDs 14 to 1B: trim FF is a sensor that takes no part in it.
#[test]
fn a_sensor_outside_the_trim_gives_no_trim() {
    assert_eq!(parts(0x15, &[0x88, 0xFF]), [(0, 0.68)]);
    assert_eq!(parts(0x06, &[0xFF]), [(0, 99.21875)]);
}

/// Coded parameters (SAE J1979, Appendix B, from memory).
#[test]
fn coded_parameters_have_words() {
    let words = |pid: u8, data: &[u8], part: u8| {
        let (_, value) = parts(pid, data)[usize::from(part)];
        let quantity = &table::row(Pid(pid)).unwrap().quantities[usize::from(part)];
        quantity.text(value).expect("a coded quantity")
    };
    assert_eq!(
        words(0x01, &[0x82, 0x07, 0x65, 0x00], 0),
        "check-engine light on, codes: 2"
    );
    assert_eq!(
        words(0x01, &[0x00, 0x17, 0x21, 0x01], 1),
        "not complete: misfire, catalyst; complete: fuel system, components, oxygen sensor"
    );
    assert_eq!(words(0x02, &[0x01, 0x33], 0), "P0133");
    assert_eq!(words(0x03, &[0x02, 0x04], 0), "closed loop");
    assert_eq!(
        words(0x03, &[0x02, 0x04], 1),
        "open loop, driving conditions"
    );
    assert_eq!(words(0x13, &[0x03], 0), "bank 1 sensor 1, bank 1 sensor 2");
    assert_eq!(words(0x1C, &[0x06], 0), "EOBD");
    assert_eq!(words(0x1E, &[0x01], 0), "power take-off active");
    assert_eq!(words(0x51, &[0x01], 0), "petrol");
}

/// BE 1F A8 13 is the mask explained most often (from memory of public explanations): every
/// parameter it names is in the table.
#[test]
fn the_well_known_mask_names_parameters_of_the_table() {
    let pids: Vec<u8> = support::supported(0, [0xBE, 0x1F, 0xA8, 0x13])
        .filter(|pid| !support::is_mask(*pid))
        .collect();
    assert_eq!(
        pids,
        [
            0x01, 0x03, 0x04, 0x05, 0x06, 0x07, 0x0C, 0x0D, 0x0E, 0x0F, 0x10, 0x11, 0x13, 0x15,
            0x1C, 0x1F
        ]
    );
    assert!(pids.iter().all(|pid| table::row(Pid(*pid)).is_some()));
}

/// Numbers of data bytes by SAE J1979, Appendix B: every parameter from 00 to 7F is there.
#[test]
fn the_first_half_of_the_table_is_whole_and_has_the_published_lengths() {
    let two = [
        0x02, 0x03, 0x0C, 0x10, 0x14, 0x15, 0x16, 0x17, 0x18, 0x19, 0x1A, 0x1B, 0x1F, 0x21, 0x22,
        0x23, 0x31, 0x32, 0x3C, 0x3D, 0x3E, 0x3F, 0x42, 0x43, 0x44, 0x4D, 0x4E, 0x53, 0x54, 0x59,
        0x5D, 0x5E, 0x63,
    ];
    let four = [
        0x00, 0x01, 0x20, 0x24, 0x2B, 0x34, 0x3B, 0x40, 0x41, 0x4F, 0x50, 0x60,
    ];
    for pid in 0x00..=0x7F {
        let row = table::row(Pid(pid)).unwrap_or_else(|| panic!("PID {pid:02X} is missing"));
        assert_eq!(row.pid, Pid(pid));
        match pid {
            0x06..=0x09 | 0x55..=0x58 => assert_eq!(row.lengths, [1, 2], "PID {pid:02X}"),
            _ if two.contains(&pid) => assert_eq!(row.lengths, [2], "PID {pid:02X}"),
            _ if four.contains(&pid) => assert_eq!(row.lengths, [4], "PID {pid:02X}"),
            0x64..=0x7F | 0x25..=0x2A | 0x35..=0x3A => {}
            _ => assert_eq!(row.lengths, [1], "PID {pid:02X}"),
        }
    }
}

/// A range is what the scaling makes of the lowest and highest raw number.
#[test]
fn ranges_are_those_of_the_published_table() {
    for (pid, low, high) in [
        (0x05, -40.0, 215.0),
        (0x06, -100.0, 99.21875),
        (0x0C, 0.0, 16_383.75),
        (0x0E, -64.0, 63.5),
        (0x32, -8192.0, 8191.75),
        (0x42, 0.0, 65.535),
    ] {
        let quantity = &table::row(Pid(pid)).unwrap().quantities[0];
        let (found_low, found_high) = quantity.range().unwrap();
        assert_close(found_low, low, "low");
        assert_close(found_high, high, "high");
    }
}

/// ISO 15031-6 bit layout, worked by hand.
#[test]
fn trouble_codes_are_those_of_their_bytes() {
    for (number, text) in [
        (0x0133, "P0133"),
        (0x0143, "P0143"),
        (0xD143, "U1143"),
        (0xD016, "U1016"),
        (0x4000, "C0000"),
        (0xBFFF, "B3FFF"),
        (0x0301, "P0301"),
        (0x21A3, "P21A3"),
    ] {
        assert_eq!(TroubleCode(number).to_string(), text);
    }
}

#[test]
fn a_code_list_is_read_in_the_form_of_can_and_of_the_older_buses() {
    let codes = vec![TroubleCode(0x0133), TroubleCode(0xD143)];
    let expected = Ok(Answer::Codes {
        list: CodeList::Stored,
        codes: codes.into_iter().map(Into::into).collect(),
    });
    let can = [0x43, 0x02, 0x01, 0x33, 0xD1, 0x43];
    assert_eq!(answer::decode(&[0x03], &can), expected);
    let older = [0x43, 0x01, 0x33, 0xD1, 0x43, 0x00, 0x00];
    assert_eq!(answer::decode(&[0x03], &older), expected);
}

/// Unit-and-scaling identifiers of SAE J1979, Appendix E (from memory), in an answer of two tests.
#[test]
fn test_values_and_limits_are_scaled_by_their_identifier() {
    let response = [
        0x46, 0x01, 0x01, 0x0A, 0x0E, 0x6A, 0x00, 0x00, 0xFF, 0xFF, //
        0x01, 0x80, 0x90, 0xFF, 0x9C, 0xFF, 0x38, 0x00, 0xC8,
    ];
    let request = [0x06, 0x01];
    let results: Vec<_> = monitor_results::records(&request, &response)
        .unwrap()
        .collect();
    // 3690 × 0.122 mV; −100 ms between −200 and 200 ms.
    assert_close(results[0].value().unwrap(), 450.18, "voltage");
    assert_eq!(results[0].scaling().unwrap().unit, Unit::Millivolt);
    assert_eq!(results[1].value(), Some(-100.0));
    assert_eq!(results[1].limits(), Some((-200.0, 200.0)));
    assert_eq!(results[1].scaling().unwrap().unit, Unit::Millisecond);
    assert_eq!(
        monitor::name(0x01, 0x01).as_deref(),
        Some("oxygen sensor bank 1 sensor 1: rich to lean threshold voltage")
    );
}

/// Vehicle information as on CAN: number of items first (SAE J1979, service 09).
#[test]
fn a_vehicle_identification_number_is_read() {
    let response = [&[0x49, 0x02, 0x01][..], b"HR0WBAKERYVAN0003"].concat();
    let number = "HR0WBAKERYVAN0003".to_owned();
    assert_eq!(
        answer::decode(&[0x09, 0x02], &response),
        Ok(Answer::VehicleIdentificationNumber(number))
    );
}
