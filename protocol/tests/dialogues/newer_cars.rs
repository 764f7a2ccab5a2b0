//! Cars that answer ISO 14229 services instead.
//!
//! ISO 14229-1: asked by a functional address, a controller keeps silent about services and items that
//! it does not have; asked alone it says 11 or 31. SAE J1979-2: F400 answers what 01 00 did.

use pintle_protocol::service::Services;

use super::*;

/// Discovery of a newer car once its bus is known: `22 F400` and the masks that follow.
const MASKS: [(&str, &str); 5] = [
    ("22F400", "7E90762F40098188000\r7E80762F400BE3FA813\r\r>"),
    ("22F420", "7E80762F4208005B010\r\r>"),
    ("22F600", "7E80762F600C0000001\r\r>"),
    ("22F620", "7E80762F62080000000\r\r>"),
    ("22F800", "7E80762F80054400000\r\r>"),
];

/// Request for the supported parameters by service 22, and its answer after the bus is found.
const FOUND: (&str, &str) = ("22F400", "SEARCHING...\r7E80762F400BE3FA813\r\r>");

fn found_newer(mut script: Script) -> Connection {
    let connection = connection(script.play());
    assert_eq!(connection.services, Services::Iso14229);
    let engine = connection.engine().unwrap();
    assert_eq!(engine.address.unwrap().to_string(), "7E8");
    assert!(engine.parameters.contains(0x06) && engine.parameters.contains(0x21));
    assert!(engine.monitors.contains(0x21) && engine.information.contains(0x02));
    connection
}

#[test]
fn a_car_silent_to_service_01_is_found_by_identifiers() {
    for silence in ["NO DATA\r\r>", "SEARCHING...\rUNABLE TO CONNECT\r\r>"] {
        let mut script = set_up(&[("0100", silence), FOUND, ("ATDPN", "A6\r\r>")]);
        script.then(&MASKS);
        let connection = found_newer(script);
        assert_eq!(connection.protocol.id(), "iso15765-11-500");
        assert_eq!(connection.controllers.len(), 2);
    }
}

#[test]
fn a_car_that_refuses_service_01_is_found_by_identifiers() {
    let refusal = "SEARCHING...\r7E8037F0111\r\r>";
    let mut script = set_up(&[("0100", refusal), ("ATDPN", "A6\r\r>"), FOUND]);
    script.then(&[("ATDPN", "A6\r\r>")]).then(&MASKS);
    found_newer(script);
}

#[test]
fn a_car_that_answers_both_is_asked_by_the_services_of_its_engine() {
    // service 01 is answered by the transmission controller alone, without engine speed
    let transmission = "7E90641008008000000\r\r>";
    let mut script = set_up(&[("0100", transmission), ("ATDPN", "A6\r\r>")]);
    script.then(&[("0100", transmission)]).then(&MASKS);
    found_newer(script);
    // and no newer controller is there either
    let mut script = set_up(&[("0100", transmission), ("ATDPN", "A6\r\r>")]);
    script.then(&[
        ("0100", transmission),
        ("22F400", "NO DATA\r\r>"),
        ("0600", "NO DATA\r\r>"),
        ("0900", "NO DATA\r\r>"),
    ]);
    let connection = connection(script.play());
    assert_eq!(connection.services, Services::SaeJ1979);
    assert_eq!(connection.controllers.len(), 1);
    // an engine that answers service 01 is asked by nothing else
    let connection = super::connection(set_up(&CAN_CAR).play());
    assert_eq!(connection.services, Services::SaeJ1979);
}

fn connected() -> Script {
    let mut script = set_up(&[("0100", "NO DATA\r\r>"), FOUND, ("ATDPN", "A6\r\r>")]);
    script.then(&MASKS);
    connection(script.play());
    script
}

#[test]
fn a_wait_is_waited_for_and_a_no_is_told() {
    let request = [0x22, 0xF4, 0x0C];
    let wait = ("22F40C", "7E8037F2278\r\r>");
    let told = ("22F40C", "7E80562F40C0BB8\r\r>");
    let answer = answer(connected().ask(&request, &[wait, told]));
    assert_eq!(answer.messages[0].payload, [0x62, 0xF4, 0x0C, 0x0B, 0xB8]);
    let refused = connected().ask(&request, &[("22F40C", "7E8037F2231\r\r>")]);
    assert_eq!(no_answer(refused).why.to_string(), "negative:31");
    let silent = connected().ask(&request, &[("22F40C", "NO DATA\r\r>")]);
    assert_eq!(no_answer(silent).why, Why::Adapter(Notice::NoData));
}

/// Clearing is asked for once, whatever becomes of it.
#[test]
fn a_clear_is_never_repeated() {
    let mut script = connected();
    let clear = [0x14, 0xFF, 0xFF, 0x33];
    let waiting = script.ask(&clear, &[("14FFFF33", "7E8037F1478\r\r>")]);
    assert_eq!(no_answer(waiting).why, Why::StillPending);
    let garbled = script.ask(&clear, &[("14FFFF33", "<RX ERROR\r\r>")]);
    assert!(matches!(garbled[0], Event::NoAnswer(_)), "{garbled:?}");
}
