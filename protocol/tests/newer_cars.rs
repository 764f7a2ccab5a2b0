//! Cars that answer by ISO 14229 services (SAE J1979-2): worked examples, by hand from the standards
//! as far as they are remembered, of what each answer says, beside the same said by SAE J1979.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use pintle_protocol::{
    Pid,
    service::{Answer, CodeList, Information, answer},
};

fn bytes(hex: &str) -> Vec<u8> {
    let digits: Vec<char> = hex.chars().filter(|c| !c.is_whitespace()).collect();
    let byte = |pair: &[char]| u8::from_str_radix(&pair.iter().collect::<String>(), 16).unwrap();
    digits.chunks(2).map(byte).collect()
}

fn decoded(request: &str, response: &str) -> Answer {
    answer::decode(&bytes(request), &bytes(response)).unwrap()
}

#[test]
fn both_families_of_services_say_the_same_thing() {
    for (older, newer) in [
        // engine speed and coolant; a mask; misfires of cylinder 1; which monitors there are;
        // calibration and its check number; cleared
        (
            ("010C05", "410C 1AF8 05 7B"),
            ("22F40CF405", "62 F40C 1AF8 F405 7B"),
        ),
        (("0100", "4100 BE1FA813"), ("22F400", "62F400 BE1FA813")),
        (
            ("06A2", "46 A20B24 0005 0000 FFFF A20C24 0001 0000 FFFF"),
            ("22F6A2", "62F6A2 0B24 0005 0000 FFFF 0C24 0001 0000 FFFF"),
        ),
        (
            ("0600A0", "4600 80000001 A0 F8000000"),
            ("22F600F6A0", "62 F600 80000001 F6A0 F8000000"),
        ),
        (
            ("0904", "4904 01 48415242 4F55522D 30303031 00000000"),
            ("22F804", "62F804 01 48415242 4F55522D 30303031 00000000"),
        ),
        (("0906", "4906 01 1791BC82"), ("22F806", "62F806 1791BC82")),
        (("04", "44"), ("14FFFF33", "54")),
    ] {
        let expected = decoded(older.0, older.1);
        assert!(!matches!(expected, Answer::Unknown(_)), "{older:?}");
        assert_eq!(decoded(newer.0, newer.1), expected, "{newer:?}");
    }
}

/// "XX1HARB0URR0W0003" in ASCII; with and without a number of items before it.
#[test]
fn the_identification_number_is_read_by_its_identifier() {
    let text = "58583148 41524230 55525230 57303030 33";
    let expected = Answer::VehicleIdentificationNumber("XX1HARB0URR0W0003".to_owned());
    for head in ["62F802", "62F80201"] {
        let response = format!("{head}{text}");
        assert_eq!(decoded("22F802", &response), expected);
    }
    let name = "45434D00 2D456E67 696E6543 6F6E7472 6F6C0000";
    let expected = Information::ControllerName("ECM-EngineControl".to_owned());
    assert_eq!(
        decoded("22F80A", &format!("62F80A{name}")),
        Answer::Information(expected)
    );
}

/// Severity class 1 (02), status 2F and AF: failed now and in this cycle, pending, confirmed, failed
/// since cleared, and with 80 the lamp. Status 04: pending alone.
#[test]
fn codes_come_with_failure_type_and_status() {
    let Answer::Codes { list, codes } = decoded(
        "194233081E",
        "594233 FF1E04 02 0303 00 AF 02 0201 13 2F 00 0000 00 2F",
    ) else {
        panic!("no codes");
    };
    assert_eq!(list, CodeList::Stored);
    let text: Vec<String> = codes.iter().map(ToString::to_string).collect();
    assert_eq!(text, ["P0303", "P0201-13"]);
    assert_eq!(codes[0].status, Some(0xAF));
    for (request, response, list) in [
        (
            "194233041E",
            "594233 FF1E04 02 0171 00 04",
            CodeList::Pending,
        ),
        ("195533", "595533 FF04 0171 00 28", CodeList::Permanent),
        ("190208", "5902 FF 0171 00 2C", CodeList::Stored),
    ] {
        match decoded(request, response) {
            Answer::Codes { list: told, codes } => {
                assert_eq!((told, codes[0].to_string()), (list, "P0171".to_owned()));
            }
            other => panic!("{request}: {other:?}"),
        }
    }
}

#[test]
fn what_was_noted_down_for_a_code_is_read_whole() {
    let Answer::Snapshots { code, snapshots } = decoded(
        "1904030300FF",
        "5904 030300 2F F003 F404 60 F405 7B F40C 1AF8 F101 F40D 32",
    ) else {
        panic!("no snapshots");
    };
    assert_eq!(code.to_string(), "P0303");
    let first = vec![
        (Pid(0x04), vec![0x60]),
        (Pid(0x05), vec![0x7B]),
        (Pid(0x0C), vec![0x1A, 0xF8]),
    ];
    let second = vec![(Pid(0x0D), vec![0x32])];
    let found: Vec<_> = snapshots
        .into_iter()
        .map(|snapshot| (snapshot.record, snapshot.values))
        .collect();
    assert_eq!(found, [(0xF0, first), (0xF1, second)]);
}

/// ISO 14229-1: 31 is what a controller says, asked alone, to identifiers that it does not have.
#[test]
fn a_no_is_a_no_in_every_service() {
    for (request, response, service, code) in [
        ("22F40C", "7F2231", 0x22, 0x31),
        ("194233081E", "7F1912", 0x19, 0x12),
        ("14FFFF33", "7F1422", 0x14, 0x22),
    ] {
        assert_eq!(
            decoded(request, response),
            Answer::Negative { service, code }
        );
    }
}

#[test]
fn what_is_not_known_stays_raw_and_what_does_not_fit_is_refused() {
    for (request, response) in [
        // parameters beyond FF, a maker's identifier, and two kinds at once
        ("22F50C", "62F50C 0BB8"),
        ("22F190", "62F190 3131"),
        ("22F40CF6A2", "62F40C 0BB8 F6A2 0B24 0005 0000 FFFF"),
        // other subfunctions of service 19
        ("1901FF", "5901FF 01 0003"),
    ] {
        let raw = Answer::Unknown(bytes(response));
        assert_eq!(decoded(request, response), raw, "{request}");
    }
    for (request, response) in [
        ("22F40C", "62F40D 32"),
        ("22F802", "62F804 01"),
        ("22F6A2", "62F6A2 0B24 0005"),
        ("195533", "5942 33 FF 04"),
        ("1904030300FF", "5904 030400 2F"),
        ("22F40C", "410C 0BB8"),
    ] {
        let wrong = answer::decode(&bytes(request), &bytes(response));
        assert!(wrong.is_err(), "{request} {response}");
    }
}
