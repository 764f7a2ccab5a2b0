use std::fmt::Write;

use proptest::prelude::*;

use super::*;
use crate::{capture::Reader, simulator::adapter::VirtualAdapter};

/// A capture with these rows, its times in ms; the header names this protocol.
fn read(protocol: &str, rows: &str) -> Result<Opened, RecordedError> {
    let mut text = format!("# capture 1\n# {{\"link\":{{\"protocol\":\"{protocol}\"}}}}\n");
    for row in rows.split_whitespace() {
        let (ms, rest) = row.split_once(',').unwrap();
        let rest = rest.replace('_', " ");
        writeln!(text, "{ms}000,{rest}").unwrap();
    }
    let file = tempfile::NamedTempFile::new().unwrap();
    std::fs::write(file.path(), text).unwrap();
    open(Reader::open(file.path()).unwrap())
}

/// Somebody who asks such a car.
struct Asker {
    car: RecordedCar,
}

impl Asker {
    fn of(protocol: &str, rows: &str) -> Self {
        let car = read(protocol, rows).unwrap().car;
        Self { car }
    }

    fn on_can(rows: &str) -> Self {
        Self::of("iso15765-11-500", rows)
    }

    /// Asks so many ms after the adapter was opened; gives each answer with its controller.
    fn ask(&mut self, ms: u64, request: &str) -> Vec<String> {
        self.car.advance_to(ms * 1_000);
        let request = pintle_protocol::bus::hex::decode(request).unwrap();
        let answers = self.car.answer(&request).into_iter();
        let text = |answer: ControllerAnswer| {
            let payload = pintle_protocol::bus::hex::encode(&answer.payload);
            format!("{} {payload}", answer.address)
        };
        answers.map(text).collect()
    }
}

#[test]
fn each_request_gets_the_newest_answer_of_its_time_and_before_it_the_first() {
    let mut asker = Asker::on_can(
        "100,data,7E8,010C,410C0BB8 200,data,7E8,010C,410C0C00 300,data,7E8,0105,41057B",
    );
    // the first question begins the recording, at its first answer
    assert_eq!(asker.ask(9_000, "010C"), ["7E8 410C0BB8"]);
    assert_eq!(asker.ask(9_099, "010C"), ["7E8 410C0BB8"]);
    assert_eq!(asker.ask(9_100, "0105"), ["7E8 41057B"]);
    assert_eq!(asker.ask(9_100, "010C"), ["7E8 410C0C00"]);
    assert_eq!(asker.ask(9_200, "010C"), ["7E8 410C0C00"]);
}

#[test]
fn values_that_were_asked_together_can_be_asked_alone_and_in_other_company() {
    let mut asker = Asker::on_can(
        "0,data,7E8,010C0D04,410C0BB80D210444 0,data,7E9,010C0D04,410C0BB80D21
        50,data,7E8,0106,410680 90,data,7E8,010C0604,410C0BF00690",
    );
    assert_eq!(asker.ask(0, "010D"), ["7E8 410D21", "7E9 410D21"]);
    assert_eq!(asker.ask(50, "010604"), ["7E8 4106800444"]);
    // load was left out of the later answer
    assert_eq!(
        asker.ask(90, "0104060C62"),
        [
            "7E8 4104440690".to_owned() + "0C0BF0",
            "7E9 410C0BB8".to_owned()
        ]
    );
    assert!(asker.ask(90, "0162").is_empty());
    assert!(asker.ask(90, "016263").is_empty());
}

// SAE J1979: the first item of a mask is the top bit, the last bit tells of the next mask.
#[test]
fn what_is_supported_is_what_was_recorded() {
    let mut asker = Asker::on_can(
        "0,data,7E8,010C0D04,410C0BB80D210444 0,data,7E8,0142,41423039 0,data,7E9,010C,410C0BB8
        1,data,7E8,06A2,46A20B2400000000FFFF 2,data,7E8,0902,490201414243 3,none,,0163,NO_DATA
        4,none,7E8,0164,negative:12",
    );
    // 04 0C 0D and more beyond 20: 1018 0001
    assert_eq!(
        asker.ask(0, "0100"),
        ["7E8 410010180001", "7E9 410000100000"]
    );
    assert_eq!(asker.ask(0, "0120"), ["7E8 412000000001"]);
    // 42 is the second behind 40
    assert_eq!(asker.ask(0, "0140"), ["7E8 414040000000"]);
    assert!(asker.ask(0, "0160").is_empty());
    assert_eq!(asker.ask(0, "06A0"), ["7E8 46A040000000"]);
    assert_eq!(asker.ask(0, "0900"), ["7E8 490040000000"]);
    let recorded = "0,data,7E8,0100,4100BE1FA813 5,data,7E8,010C,410C0BB8";
    assert_eq!(Asker::on_can(recorded).ask(0, "0100"), ["7E8 4100BE1FA813"]);
    // asking what there is does not begin the recording
    assert_eq!(*asker.car.stage().borrow(), Stage::Waiting);
}

#[test]
fn silence_and_refusals_come_as_they_were_recorded() {
    let mut asker = Asker::on_can(
        "0,data,7E8,010C,410C0BB8 10,data,7E8,0105,41057B 20,none,,0105,NO_DATA 30,data,7E8,0105,41057C
        40,none,7E8,0A,negative:11 50,none,,0105,DATA_ERROR 60,none,7E8,07,negative:78
        70,data,7E8,010C,410C0C00",
    );
    assert_eq!(asker.ask(0, "010C"), ["7E8 410C0BB8"]);
    assert_eq!(asker.ask(10, "0105"), ["7E8 41057B"]);
    assert!(asker.ask(20, "0105").is_empty());
    assert_eq!(asker.ask(30, "0105"), ["7E8 41057C"]);
    // a disturbance on the line is none of the car
    assert_eq!(asker.ask(50, "0105"), ["7E8 41057C"]);
    assert_eq!(asker.ask(50, "0A"), ["7E8 7F0A11"]);
    assert!(asker.ask(60, "07").is_empty());
    assert!(asker.ask(60, "0902").is_empty());
}

// Nobody has measured anything while the engine computer was away: readings are believed for 10 s and no longer.
#[test]
fn where_nobody_answered_and_at_the_end_the_car_is_silent() {
    let mut asker = Asker::on_can(
        "0,data,7E8,010C,410C0BB8 1000,data,7E8,010C,410C0BB9 1100,mark,,,coffee
        31000,data,7E8,010C,410C0BBA 40000,data,7E8,010C,410C0BBB",
    );
    let stage = asker.car.stage();
    assert_eq!(asker.ask(0, "010C"), ["7E8 410C0BB8"]);
    assert_eq!(*stage.borrow(), Stage::Running);
    assert_eq!(asker.ask(1_000, "010C"), ["7E8 410C0BB9"]);
    assert!(asker.ask(1_001, "010C").is_empty());
    assert!(asker.ask(30_999, "0100").is_empty());
    assert_eq!(asker.ask(31_000, "010C"), ["7E8 410C0BBA"]);
    // nine seconds without an answer are none
    assert_eq!(asker.ask(39_000, "010C"), ["7E8 410C0BBA"]);
    assert_eq!(asker.ask(40_000, "010C"), ["7E8 410C0BBB"]);
    assert!(asker.ask(40_001, "010C").is_empty());
    assert!(asker.ask(99_000, "0100").is_empty());
    assert_eq!(*stage.borrow(), Stage::Over);
    asker.car.start_over();
    assert_eq!(*stage.borrow(), Stage::Waiting);
    assert_eq!(asker.ask(99_500, "010C"), ["7E8 410C0BB8"]);
}

#[test]
fn a_capture_with_an_answer_every_half_minute_is_no_silent_car() {
    let rows = (0..10).map(|n| format!("{},data,7E8,010C,410C0BB{n} ", n * 30_000));
    let mut asker = Asker::on_can(&rows.collect::<String>());
    assert_eq!(asker.ask(0, "010C"), ["7E8 410C0BB0"]);
    assert_eq!(asker.ask(29_000, "010C"), ["7E8 410C0BB0"]);
    assert_eq!(asker.ask(31_000, "010C"), ["7E8 410C0BB1"]);
}

#[test]
fn a_recording_can_begin_later_but_not_at_its_end() {
    let car = || {
        read(
            "iso15765-11-500",
            "5,data,7E8,010C,410C0BB8 1005,data,7E8,010C,410C0C00 3005,data,7E8,0105,41057B",
        )
        .unwrap()
        .car
    };
    let mut asker = Asker {
        car: car().from(1_500_000).unwrap(),
    };
    assert_eq!(asker.ask(0, "010C"), ["7E8 410C0C00"]);
    assert_eq!(asker.ask(1_500, "010C"), ["7E8 410C0C00"]);
    assert!(asker.ask(1_501, "010C").is_empty());
    assert!(car().from(3_000_000).is_none());
    assert_eq!(car().length_us(), 3_000_000);
}

// ISO 14229-1: 11 means that the service is not supported.
#[test]
fn a_recording_cannot_be_cleared() {
    let rows = "0,data,7E8,03,43010303 5,data,7E8,04,44 9,data,7E8,03,4300";
    let mut asker = Asker::on_can(rows);
    assert_eq!(asker.ask(0, "04"), ["7E8 7F0411"]);
    assert_eq!(asker.ask(1, "14FFFF33"), ["7E8 7F1411"]);
    assert_eq!(asker.ask(1, "03"), ["7E8 43010303"]);
    let mut older = Asker::of("iso9141-2", "0,data,10,010C,410C0BB8");
    assert!(older.ask(0, "04").is_empty());
}

#[test]
fn a_car_that_refuses_several_values_at_once_does_so_again() {
    let rows = "0,data,7E8,010C,410C0BB8 1,none,7E8,010C0D,negative:12 2,data,7E8,010D,410D21";
    let mut asker = Asker::on_can(rows);
    assert_eq!(asker.ask(0, "010C0D"), ["7E8 7F0112"]);
    assert!(asker.ask(1, "010D0C").is_empty());
    assert_eq!(asker.ask(1, "010D"), ["7E8 410D21"]);
}

// SAE J1979 before CAN: three codes a message, identification numbers in five messages.
#[test]
fn before_can_an_answer_is_sent_in_the_messages_in_which_it_came() {
    let mut asker = Asker::of(
        "iso9141-2",
        "0,data,10,010C,410C0BB8 1,data,10,03,43010103010203 1,data,10,03,43030100000000
        2,data,10,0902,4902013030304852425256414E333030303030303033 3,data,18,010C,410C0BB8
        4,data,10,03,43010100000000",
    );
    assert_eq!(asker.ask(0, "010C"), ["10 410C0BB8", "18 410C0BB8"]);
    assert!(asker.ask(0, "010C0D").is_empty());
    assert_eq!(
        asker.ask(1, "03"),
        ["10 43010103010203", "10 43030100000000"]
    );
    assert_eq!(asker.ask(2, "0902").len(), 5);
    assert_eq!(asker.ask(4, "03"), ["10 43010100000000"]);
    // supported, in the form of these buses
    assert_eq!(asker.ask(4, "0900"), ["10 49000140000000"]);
}

// By hand: 850 rpm × 4 = 0D48; 3.125 % + 100 = 132 × 100 / 128; 90 °C + 40 = 130; lambda alone has no bytes.
#[test]
fn numbers_of_another_logger_are_said_in_bytes_where_there_are_some() {
    let rows = "0,value,,010C,850 0,value,,0106,3.125 0,value,,0105,90 0,value,,0134,1.0
        0,value,,06A30B,2 500,value,,06A30C,7 1000,value,,0134,1.0 1000,value,,010C,16500
        1000,value,,010C,900";
    let opened = read("", rows).unwrap();
    let left: Vec<(&str, u64)> = opened
        .left_out
        .iter()
        .map(|(request, rows)| (request.as_str(), *rows))
        .collect();
    assert_eq!(left, [("010C", 1), ("0134", 2)]);
    let mut asker = Asker { car: opened.car };
    assert_eq!(asker.ask(0, "010C0605"), ["7E8 410C0D4806840582"]);
    assert_eq!(
        asker.ask(0, "06A3"),
        ["7E8 46A30B2400020000FFFFA30C2400070000FFFF"]
    );
    assert_eq!(asker.ask(0, "0100"), ["7E8 41000C100000"]);
    assert_eq!(asker.ask(1_000, "010C"), ["7E8 410C0E10"]);
    assert_eq!(asker.car.items(), 4);
}

// An adapter without headers: the engine's code must not hide behind the other controller's empty list.
#[test]
fn answers_without_a_name_are_all_given() {
    let mut asker = Asker::on_can(
        "0,data,,03,43010303 0,data,,03,4300 5,data,,010C06,410C0BB80680 5,data,,010C06,410C0BB9",
    );
    assert_eq!(asker.ask(0, "03"), ["7E8 43010303", "7E8 4300"]);
    assert_eq!(asker.ask(5, "0106"), ["7E8 410680"]);
}

#[test]
fn the_supply_is_what_the_control_module_said() {
    let asker = Asker::on_can("0,data,7E8,010C42,410C0BB84236B0");
    // 36B0 is 14 000 mV
    assert_eq!(asker.car.volts(), Some(14.0));
    assert_eq!(Asker::on_can("0,data,7E8,010C,410C0BB8").car.volts(), None);
}

// Services and identifiers of SAE J1979-2.
#[test]
fn a_newer_car_is_asked_by_identifiers() {
    let mut asker = Asker::of(
        "iso15765-29-500",
        "0,data,18DAF110,22F40CF40D,62F40C0BB8F40D21 0,data,18DAF110,22F6A2,62F6A20B2400000000FFFF
        0,data,18DAF110,1942330803,5942330000",
    );
    assert_eq!(asker.ask(0, "22F40D"), ["18DAF110 62F40D21"]);
    assert_eq!(asker.ask(0, "22F40DF40C"), ["18DAF110 62F40D21F40C0BB8"]);
    assert_eq!(asker.ask(0, "22F400"), ["18DAF110 62F40000180000"]);
    assert_eq!(asker.ask(0, "22F6A0"), ["18DAF110 62F6A040000000"]);
    assert_eq!(asker.ask(0, "1942330803"), ["18DAF110 5942330000"]);
    assert!(asker.ask(0, "0100").is_empty());
}

#[test]
fn what_cannot_be_on_the_bus_is_left_out_and_reported() {
    let opened = read(
        "iso15765-11-500",
        "0,data,7E8,010C,410C0BB8 1,data,18DAF110,0105,41057B 2,data,seat,0D,4D",
    )
    .unwrap();
    let left: Vec<&String> = opened.left_out.keys().collect();
    assert_eq!(left, ["0105", "0D"]);
    assert_eq!(opened.car.controllers(), 1);
    for nothing in [
        "",
        "0,mark,,,here",
        "0,none,,010C,NO_DATA",
        "0,data,18DAF110,0105,41057B",
    ] {
        let error = read("iso15765-11-500", nothing).unwrap_err();
        assert!(matches!(error, RecordedError::NoAnswers), "{nothing}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]
    #[test]
    fn no_capture_and_no_question_break_it(
        rows in "([0-9]{1,5},(data|none|value),(7E8|7E9|003|10|18DAF110|),(0[0-9A][0-9A-F]{2}|22F40CF40D|010C0D|03),(41|49|7F|62F4|[0-9]|negative:)[0-9A-F]{0,40} ){0,20}",
        protocol in "(iso15765-11-500|iso9141-2|j1850-vpw|iso15765-29-500|)",
        requests in proptest::collection::vec("([0-9A-F]{2}){1,7}", 1..20),
    ) {
        let mut times: Vec<&str> = rows.split_whitespace().collect();
        times.sort_by_key(|row| row.split(',').next().unwrap().parse::<u64>().unwrap());
        if let Ok(opened) = read(&protocol, &times.join(" ")) {
            let mut adapter = VirtualAdapter::new(opened.car, 38_400);
            let mut now_us = 0;
            for request in ["ATZ", "ATH1"].into_iter().chain(requests.iter().map(String::as_str)) {
                for byte in request.bytes().chain([b'\r']) {
                    adapter.receive(byte, now_us);
                }
                now_us = adapter.settled_us().unwrap_or(now_us) + 1_000;
                let said = adapter.take_due(now_us);
                prop_assert!(said.ends_with(b">"));
            }
        }
    }
}

#[test]
fn a_recording_at_the_end_of_all_times_is_played_too() {
    // 2⁶⁴ µs are 18446744073709551.615 ms; a time so far ahead is believed once it is confirmed
    let end = "18446744073709551";
    let mut asker = Asker::on_can(&format!(
        "{end},data,7E8,010C,410C0BB8 {end},data,7E8,010C,410C0BBC {end},data,7E8,010C,410C0BC0"
    ));
    assert_eq!(asker.ask(0, "010C"), ["7E8 410C0BC0"]);
    assert!(asker.ask(60_000, "010C").is_empty());
}
