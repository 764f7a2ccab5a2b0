//! The way to a connection.

use super::*;

#[test]
fn a_can_car_is_found_with_its_controllers() {
    let connection = connection(set_up(&CAN_CAR).play());
    assert_eq!(connection.protocol.id(), "iso15765-11-500");
    assert_eq!(connection.voltage, Some(12.6));
    let name = connection.adapter.name.as_deref();
    assert_eq!(name, Some("SERIAL ADAPTER v3.2"));
    assert_eq!(connection.adapter.refused, [""; 0]);
    let engine = connection.engine().unwrap();
    assert_eq!(engine.address.unwrap().to_string(), "7E8");
    assert!(engine.parameters.contains(0x06) && engine.parameters.contains(0x0C));
    assert!(engine.monitors.contains(0x01));
    assert!(engine.information.contains(0x02));
    let other = connection.controllers[1].address.unwrap().to_string();
    assert_eq!((connection.controllers.len(), other.as_str()), (2, "7E9"));
}

#[test]
fn a_can_car_with_long_identifiers_is_found() {
    let car = [
        ("0100", "18DAF110064100BE3FA81200\r\r>"),
        ("ATDPN", "7\r\r>"),
        ("0100", "18DAF110064100BE3FA81200\r\r>"),
        ("0600", "NO DATA\r\r>"),
        ("0900", "NO DATA\r\r>"),
    ];
    let connection = connection(set_up(&car).play());
    assert_eq!(connection.protocol.id(), "iso15765-29-500");
    let engine = connection.engine().unwrap();
    assert_eq!(engine.address.unwrap().to_string(), "18DAF110");
}

// On K-line and J1850 service 06 has maker-specific content: its masks are not asked for.
#[test]
fn cars_before_can_are_found() {
    let kline = [
        (
            "0100",
            "SEARCHING...BUS INIT: ...OK\r486B104100BE3EB810C8\r\r>",
        ),
        ("ATDPN", "A3\r\r>"),
        ("0100", "486B104100BE3EB810C8\r\r>"),
        ("0900", "486B104900015400000061\r\r>"),
    ];
    let fast = [
        ("0100", "BUS INIT: OK\r86F1104100BE3EB8108C\r\r>"),
        ("ATDPN", "A5\r\r>"),
        ("0100", "86F1104100BE3EB8108C\r\r>"),
        ("0900", "NO DATA\r\r>"),
    ];
    let j1850 = [
        ("0100", "SEARCHING...\r486B104100BE3EB810E7\r\r>"),
        ("ATDPN", "A2\r\r>"),
        ("0100", "486B104100BE3EB810E7\r\r>"),
        ("0900", "NO DATA\r\r>"),
    ];
    for (car, id) in [
        (&kline, "iso9141-2"),
        (&fast, "iso14230-4-fast"),
        (&j1850, "j1850-vpw"),
    ] {
        let connection = connection(set_up(car).play());
        assert_eq!(connection.protocol.id(), id);
        let engine = connection.engine().unwrap();
        assert_eq!(engine.address.unwrap().to_string(), "10");
        assert!(engine.parameters.contains(0x0C) && engine.monitors.is_empty());
    }
    let connection = connection(set_up(&kline).play());
    assert!(connection.engine().unwrap().information.contains(0x02));
}

#[test]
fn an_adapter_that_takes_only_some_settings_is_coped_with() {
    let mut script = Script::open(&[
        ("ATZ", "ATZ\r\n\r\nSERIAL ADAPTER v3.0\r\n\r\n>"),
        ("ATE0", "ATE0\r\n?\r\n\r\n>"),
        ("ATL0", "ATL0\r\n?\r\n\r\n>"),
        ("ATS0", "ATS0\r\n?\r\n\r\n>"),
        ("ATH1", "ATH1\r\nOK\r\n\r\n>"),
        ("ATAT1", "ATAT1\r\n?\r\n\r\n>"),
        ("ATI", "ATI\r\nSERIAL ADAPTER v3.0\r\n\r\n>"),
        ("ATRV", "ATRV\r\n?\r\n\r\n>"),
        ("ATSP0", "ATSP0\r\nOK\r\n\r\n>"),
        (
            "0100",
            "0100\r\nSEARCHING...\r\n7E8 06 41 00 BE 3F A8 12 00 \r\n\r\n>",
        ),
        ("ATDPN", "ATDPN\r\n?\r\n\r\n>"),
        ("0100", "0100\r\n7E8 06 41 00 BE 3F A8 12 00 \r\n\r\n>"),
        ("0600", "0600\r\nNO DATA\r\n\r\n>"),
        ("0900", "0900\r\nNO DATA\r\n\r\n>"),
    ]);
    let connection = connection(script.play());
    // it does not say which speed the bus has, and that is not guessed
    assert_eq!(connection.protocol.id(), "iso15765-11");
    assert_eq!(connection.voltage, None);
    assert_eq!(
        connection.adapter.refused,
        [
            "echo off",
            "line feeds off",
            "spaces off",
            "adaptive timing"
        ]
    );
    let reply = "010C\r\n7E8 04 41 0C 0B B8 00 00 00 \r\n\r\n>";
    let answer = answer(script.ask(&SPEED, &[("010C", reply)]));
    assert_eq!(answer.messages[0].payload, [0x41, 0x0C, 0x0B, 0xB8]);
}

#[test]
fn an_echo_that_stays_although_it_was_switched_off_is_coped_with() {
    let mut script = Script::open(&[
        ("ATZ", "ATZ\r\rSERIAL ADAPTER v3.2\r\r>"),
        ("ATE0", "ATE0\rOK\r\r>"),
        ("ATL0", "ATL0\rOK\r\r>"),
        ("ATS0", "ATS0\rOK\r\r>"),
        ("ATH1", "ATH1\rOK\r\r>"),
        ("ATAT1", "ATAT1\rOK\r\r>"),
        ("ATI", "ATI\rSERIAL ADAPTER v3.2\r\r>"),
        ("ATRV", "ATRV\r12.4V\r\r>"),
        ("ATSP0", "ATSP0\rOK\r\r>"),
        ("0100", "0100\r7E8064100BE3FA812\r\r>"),
        ("ATDPN", "ATDPN\rA6\r\r>"),
        ("0100", "0100\r7E8064100BE3FA812\r\r>"),
        ("0600", "0600\rNO DATA\r\r>"),
        ("0900", "0900\rNO DATA\r\r>"),
    ]);
    let connection = connection(script.play());
    assert_eq!(connection.adapter.refused, ["echo off"]);
    let answer = answer(script.ask(&SPEED, &[("010C", "010C\r7E804410C0BB8\r\r>")]));
    assert_eq!(answer.messages[0].payload, [0x41, 0x0C, 0x0B, 0xB8]);
}

#[test]
fn an_adapter_that_shows_no_headers_is_coped_with() {
    let mut script = set_up(&[
        ("0100", "4100BE3FA812\r\r>"),
        ("ATDPN", "A6\r\r>"),
        ("0100", "4100BE3FA812\r\r>"),
        ("0600", "NO DATA\r\r>"),
        ("0900", "490054400000\r\r>"),
    ]);
    let connection = connection(script.play());
    assert_eq!(connection.engine().unwrap().address, None);
    let answer = answer(script.ask(&SPEED, &[("010C", "410C0BB8\r\r>")]));
    assert_eq!(answer.messages[0].from, None);
}

#[test]
fn a_name_of_the_bus_that_does_not_fit_is_not_believed() {
    let mut car = CAN_CAR;
    car[1] = ("ATDPN", "A3\r\r>");
    assert_eq!(connection(set_up(&car).play()).protocol.id(), "iso15765-11");
}

#[test]
fn bytes_may_come_one_at_a_time() {
    let mut script = set_up(&CAN_CAR);
    script.chunk = 1;
    assert_eq!(
        connection(script.play()),
        connection(set_up(&CAN_CAR).play())
    );
}

#[test]
fn a_reset_that_only_stopped_something_is_said_again() {
    let mut script = Script::open(&[("ATZ", "7E804\rSTOPPED\r\r>"), RESET]);
    script.then(&SETTINGS).then(&ABOUT).then(&CAN_CAR);
    connection(script.play());
}

#[test]
fn a_restart_halfway_makes_all_settings_again() {
    let mut script = Script::open(&[RESET, SETTINGS[0], ("ATL0", "LV RESET\r\r>")]);
    script.then(&SETTINGS).then(&ABOUT).then(&CAN_CAR);
    connection(script.play());
    let mut restarting = Script::open(&[RESET]);
    restarting.then(&[("ATE0", "SERIAL ADAPTER v3.2\r\r>"); 3]);
    assert_eq!(failure(restarting.play()), SetupFailure::AdapterRestarts);
}

#[test]
fn a_restart_during_the_search_makes_all_settings_again_and_searches_anew() {
    let low = ("0100", "SEARCHING...\rLV RESET\r\r>");
    let mut script = Script::open(&[RESET]);
    script.then(&SETTINGS).then(&ABOUT).then(&[low]);
    script.then(&SETTINGS).then(&ABOUT[2..]).then(&CAN_CAR);
    let connection = connection(script.play());
    assert!(connection.engine().unwrap().address.is_some());
    let mut restarting = Script::open(&[RESET]);
    restarting.then(&SETTINGS).then(&ABOUT).then(&[low]);
    for _ in 0..2 {
        restarting.then(&SETTINGS).then(&ABOUT[2..]).then(&[low]);
    }
    assert_eq!(failure(restarting.play()), SetupFailure::AdapterRestarts);
}

#[test]
fn a_damaged_mask_is_asked_for_again() {
    let mut script = set_up(&CAN_CAR[..2]);
    script.then(&[("0100", "7E8064100BE3F\r7E90641009818800100\r\r>")]);
    script.then(&CAN_CAR[2..]);
    let connection = connection(script.play());
    assert!(connection.engine().unwrap().parameters.contains(0x06));
}
