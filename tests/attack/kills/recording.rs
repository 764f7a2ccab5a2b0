//! Kills a recording. Whatever the car's bus log shows as answered a while before must be in the capture.

use std::{
    fs,
    path::Path,
    process::{Command, Stdio},
    sync::Mutex,
    time::{Duration, Instant},
};

use pintle::{
    capture::{Kind, Reader},
    clock::Clock,
    simulator::{
        adapter::{
            Purpose, Sent, VirtualAdapter,
            endpoint::{open_pty, open_tcp},
        },
        car::{Car, fleet::FLEET, trip::Trip},
    },
};
use pintle_protocol::bus::hex;

use super::{super::dice::Dice, Kills};

/// An answer reaches the operating system within this time (the capture format), µs.
pub const ALLOWED_US: u64 = 250_000;
/// Longest time until a recording begins.
const PATIENCE: Duration = Duration::from_secs(60);
/// How often a recording is begun that ended before its first row.
const TRIES: usize = 3;
/// Shortest and longest time from the recording's beginning to the kill, s.
const MOMENT_S: (f64, f64) = (0.005, 6.0);

/// Records a car, kills the program, and looks what is missing.
pub fn kill(folder: &Path, dice: &mut Dice, kills: &Mutex<Kills>) {
    let car = Car::new(
        dice.one_of(&FLEET),
        &[],
        Trip::warm(dice.seed()),
        dice.seed(),
    )
    .unwrap();
    let baud = *dice.one_of(&[38_400, 115_200, 500_000]);
    let adapter = VirtualAdapter::new(car, baud);
    let (log, clock) = (adapter.bus_log(), Clock::real());
    let (option, endpoint) = if dice.chance(0.5) {
        ("--port", open_pty(adapter, clock.clone()))
    } else {
        ("--tcp", open_tcp(adapter, clock.clone()))
    };
    let endpoint = endpoint.unwrap();
    let capture = folder.join(*dice.one_of(&["a.capture.csv", "a.capture.csv.gz"]));
    let mut command = Command::new(env!("CARGO_BIN_EXE_pintle"));
    command
        .args(["record", option, endpoint.address(), "--out"])
        .arg(&capture);
    if option == "--port" {
        command.args(["--baud", &baud.to_string()]);
    }
    let said = folder.join("said.txt");
    let mut start = || {
        let mut program = command
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(fs::File::create(&said).unwrap())
            .spawn()
            .unwrap();
        let until = Instant::now() + PATIENCE;
        while !capture.exists() && Instant::now() < until && program.try_wait().unwrap().is_none() {
            std::thread::sleep(Duration::from_millis(2));
        }
        program
    };
    let mut program = start();
    // on a computer with too much to do adapter and program may miss each other: nothing is lost by that
    for _ in 1..TRIES {
        if !capture.exists() && program.try_wait().unwrap().is_some() {
            program = start();
        }
    }
    let began = capture.exists();
    std::thread::sleep(Duration::from_secs_f64(
        dice.log_between(MOMENT_S.0, MOMENT_S.1),
    ));
    let (killed_us, killed_at) = (clock.now_us(), jiff::Timestamp::now());
    program.kill().unwrap();
    let status = program.wait().unwrap();
    let mut kills = kills.lock().unwrap();
    kills.recordings += 1;
    if !began || status.code().is_some() {
        kills.problem(
            "did not record until it was killed",
            format_args!(
                "{status}, {command:?}: {}",
                fs::read_to_string(&said).unwrap_or_default()
            ),
        );
        return;
    }
    let asked = requests(&log.messages());
    match read(&capture) {
        Some((started, recorded)) => {
            let ago_us = killed_at
                .as_microsecond()
                .abs_diff(started.as_microsecond());
            let asked: Vec<_> = asked
                .into_iter()
                .filter(|(at_us, request)| at_us + ago_us >= killed_us && !is_discovery(request))
                .collect();
            compare(&asked, &recorded, killed_us, &capture, &mut kills);
        }
        // killed before the first line was in the file
        None if fs::metadata(&capture).is_ok_and(|file| file.len() < 512) => {}
        None => kills.problem("a capture that cannot be read", capture.display()),
    }
}

/// Requests on the bus with their times.
fn requests(messages: &[Sent]) -> Vec<(u64, String)> {
    let requests = messages
        .iter()
        .filter(|sent| sent.purpose == Purpose::Request);
    requests
        .map(|sent| (sent.at_us, hex::encode(&sent.data)))
        .collect()
}

/// Whether a request asks what is supported. Only connecting does, before there is a capture.
fn is_discovery(request: &str) -> bool {
    let item = request
        .get(2..4)
        .and_then(|item| u8::from_str_radix(item, 16).ok());
    ["01", "06", "09"].contains(&&request[..2])
        && request.len() == 4
        && item.is_some_and(|item| item.is_multiple_of(0x20))
}

/// When a capture was begun, and the requests in it, in order.
fn read(capture: &Path) -> Option<(jiff::Timestamp, Vec<String>)> {
    let mut reader = Reader::open(capture).ok()?;
    let started = reader.header().started?;
    let (mut requests, mut before) = (Vec::new(), None);
    while let Some(row) = reader.next_row().unwrap() {
        if matches!(row.kind, Kind::Data | Kind::None) {
            // answers of several controllers to one request stand one after the other
            let one = (row.t_us, row.request.to_owned());
            if before.as_ref() != Some(&one) {
                requests.push(one.1.clone());
            }
            before = Some(one);
        }
    }
    Some((started, requests))
}

/// Finds what was asked and is not in the capture. A request has been answered when the next one goes out.
fn compare(
    asked: &[(u64, String)],
    recorded: &[String],
    killed_us: u64,
    capture: &Path,
    kills: &mut Kills,
) {
    let mut rest = recorded.iter().peekable();
    let mut for_good = Vec::new();
    for (place, (_, request)) in asked.iter().enumerate() {
        kills.requests += 1;
        if rest.next_if(|next| *next == request).is_some() {
            continue;
        }
        let Some((answered_us, next)) = asked.get(place + 1) else {
            continue;
        };
        // asked again because the answer could not be used
        if next == request {
            continue;
        }
        kills.lost += 1;
        if answered_us + ALLOWED_US < killed_us {
            for_good.push(format!(
                "{request} {} ms before the kill",
                (killed_us - answered_us) / 1000
            ));
        }
    }
    kills.lost_for_good += for_good.len() as u64;
    if !for_good.is_empty() || rest.peek().is_some() {
        let left = rest.count();
        kills.problem(
            "rows lost",
            format_args!(
                "{for_good:?}, {left} rows in no order, {}",
                capture.display()
            ),
        );
    }
}
