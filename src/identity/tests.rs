use pintle_protocol::Item;

use super::*;

/// Identification number of a van.
const VAN: &str = "000HRBRVAN3000003";
/// Identification number of a different van.
const OTHER: &str = "000HRBRVAN7000007";

fn numbered(vin: &str) -> CarIdentity {
    let mut car = CarIdentity::default();
    car.take_vin(vin);
    car
}

fn programmed(name: &str) -> CarIdentity {
    CarIdentity {
        calibrations: vec![name.to_owned()],
        ..CarIdentity::default()
    }
}

/// A car whose counters of these cylinders were read so often.
fn counting(cylinders: u8, rounds: u8, asked_for_all: bool) -> CarIdentity {
    let mut car = CarIdentity {
        asked_for_all,
        ..CarIdentity::default()
    };
    for _ in 0..rounds {
        for cylinder in 0..cylinders {
            for tid in [0x0B, 0x0C] {
                car.take_reading(Item::monitor(0xA2 + cylinder, tid));
            }
        }
    }
    car
}

fn seen(source: &str, car: CarIdentity) -> Sighting {
    Sighting {
        source: source.to_owned(),
        car,
    }
}

fn looks_different(one: &CarIdentity, other: &CarIdentity) -> bool {
    let ways = [one.compared_with(other), other.compared_with(one)];
    let different = ways.map(|likeness| matches!(likeness, Likeness::LooksDifferent(_)));
    assert_eq!(different[0], different[1]);
    different[0]
}

#[test]
fn the_identification_number_decides_whatever_else_differs() {
    let anew = |name: &str| CarIdentity {
        vin: numbered(VAN).vin,
        ..programmed(name)
    };
    let (old, new) = (anew("HR-VAN3-2000-A04"), anew("HR-VAN3-2000-A05"));
    assert_eq!(old.compared_with(&new), Likeness::Same);
    assert!(old.programmed_anew(&new).is_some());
    assert_eq!(
        numbered(VAN).compared_with(&numbered(OTHER)),
        Likeness::Different
    );
    assert_eq!(
        numbered(VAN).compared_with(&numbered(&VAN.to_lowercase())),
        Likeness::Same
    );
}

#[test]
fn a_controller_that_was_never_programmed_has_no_number() {
    for placeholder in ["00000000000000000", "FFFFFFFFFFFFFFFFF", "", "  "] {
        assert_eq!(numbered(placeholder).vin, None, "{placeholder:?}");
    }
}

#[test]
fn what_only_one_of_them_knows_says_nothing() {
    let all = CarIdentity {
        vin: numbered(VAN).vin,
        engine_controller: Some("7E8".to_owned()),
        supported: vec![SupportBlock::new(1, 0, [0xBE, 0x3E, 0xA8, 0x13])],
        label: Some("van 3".to_owned()),
        ..programmed("HR-VAN3-2000-A04")
    };
    assert_eq!(
        all.compared_with(&CarIdentity::default()),
        Likeness::Unknown
    );
    let two_names = CarIdentity {
        calibrations: vec!["HR-A".to_owned(), "HR-B".to_owned()],
        ..CarIdentity::default()
    };
    assert!(!looks_different(&two_names, &programmed("HR-B")));
    assert!(looks_different(&two_names, &programmed("HR-C")));
    // by hand: only the bit that announces the next block differs
    let block = |last: u8| CarIdentity {
        supported: vec![SupportBlock::new(1, 0, [0xBE, 0x3E, 0xA8, last])],
        ..CarIdentity::default()
    };
    assert!(!looks_different(&block(0x12), &block(0x13)));
    assert!(looks_different(&block(0x11), &block(0x13)));
    let named = |label: &str| CarIdentity {
        label: Some(label.to_owned()),
        ..CarIdentity::default()
    };
    assert!(!looks_different(&named("van 3"), &named("Van-3 ")));
    assert!(looks_different(&named("van 3"), &named("van 7")));
}

#[test]
fn counters_that_a_short_recording_did_not_reach_are_no_other_car() {
    let whole = counting(4, 10, true);
    assert!(!looks_different(&whole, &counting(2, 1, true)));
    assert!(!looks_different(&whole, &counting(2, 100, false)));
    assert!(looks_different(&whole, &counting(6, 10, true)));
    assert!(looks_different(&whole, &counting(6, 1, false)));
}

// SAE J1979: A1 counts for all cylinders, A2 to AD for cylinders 1 to 12.
#[test]
fn supported_counters_are_known_before_any_is_read() {
    let supported =
        |service, first| SupportBlock::of(service, first, |item| (0xA1..=0xA5).contains(&item));
    let car = CarIdentity {
        supported: supported(0x06, 0xA0).into_iter().collect(),
        ..CarIdentity::default()
    };
    let counters = car.misfire_counters();
    assert_eq!(counters.highest(), 4);
    assert!(counters.exclude(6) && counters.exclude(3) && !counters.exclude(4));
    let none = CarIdentity::default().misfire_counters();
    assert!(!none.exclude(4) && !none.exclude(16));
    let most = counting(12, 10, true).misfire_counters();
    assert!(!most.exclude(16) && most.exclude(8));
}

#[test]
fn blocks_are_written_as_requests_and_masks_are() {
    let text = "0100BE3EA813";
    let block: SupportBlock = text.parse().unwrap();
    assert_eq!(block, SupportBlock::new(1, 0, [0xBE, 0x3E, 0xA8, 0x13]));
    assert_eq!(block.to_string(), text);
    for text in [
        "",
        "0100BE3EA8",
        "0100BE3EA8133",
        "+100BE3EA813",
        "é100BE3EA81",
    ] {
        assert!(text.parse::<SupportBlock>().is_err(), "{text}");
    }
}

#[test]
fn two_numbers_are_refused_unless_somebody_says_that_it_is_one_car() {
    let two = [
        seen("a.capture.csv", numbered(VAN)),
        seen("b.capture.csv", numbered(OTHER)),
        seen("c.capture.csv", numbered(VAN)),
    ];
    let refused = check(&two, None, false).unwrap_err().to_string();
    for part in ["two cars", "a.capture.csv", VAN, "b.capture.csv", OTHER] {
        assert!(refused.contains(part), "{refused}");
    }
    let said = check(&two, None, true).unwrap();
    assert!(
        said[0].contains("--same-car") && said[0].contains(OTHER),
        "{said:?}"
    );
    assert_eq!(check(&two[..1], None, false), Ok(Vec::new()));
}

#[test]
fn a_description_of_another_engine_is_refused() {
    let car = [seen("a.capture.csv", counting(4, 10, true))];
    let described = |cylinders| Described {
        source: "six.toml".to_owned(),
        cylinders,
    };
    let refused = check(&car, Some(&described(6)), false).unwrap_err();
    assert!(matches!(refused, OtherCar::Description(_)), "{refused}");
    assert_eq!(check(&car, Some(&described(4)), false), Ok(Vec::new()));
    assert_eq!(check(&car, Some(&described(6)), true).unwrap().len(), 1);
}

#[test]
fn a_recording_that_fits_one_state_of_a_reprogrammed_car_is_in_no_doubt() {
    let with_number = |name: &str| CarIdentity {
        vin: numbered(VAN).vin,
        ..programmed(name)
    };
    let old = seen("old", with_number("HR-A04"));
    let new = seen("new", with_number("HR-A05"));
    let without = seen("without", programmed("HR-A05"));
    let all = [old.clone(), new, without.clone()];
    assert_eq!(check(&all, None, false), Ok(Vec::new()));
    let doubt = check(&[old, without], None, false).unwrap();
    assert!(doubt[0].contains("look like two cars"), "{doubt:?}");
}
