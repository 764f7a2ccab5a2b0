//! Cars and adapters that the simulated fleet does not have, played by hand from the standards: a car that answers one
//! parameter at a time, an adapter with a short memory. All of them watch that nobody speaks while they work.

use std::{
    future::pending,
    io::{ErrorKind, Read, Write},
    net::{TcpListener, TcpStream},
    path::Path,
    sync::{
        Arc,
        atomic::{AtomicU32, Ordering},
    },
};

use pintle::{
    capture::{Kind, Reader, Row, Writer},
    clock::Clock,
    link::{Device, Ending, LinkError, RecordError, RecordingRequest, Session},
};
use pintle_protocol::bus::hex;

use crate::harness::Workbench;

/// An adapter whose car answers as a function says; counts bytes that came while it worked.
struct Played {
    address: String,
    interruptions: Arc<AtomicU32>,
}

impl Played {
    /// `car` gets a request in hex digits, without the number of expected lines, and gives lines; none is silence.
    fn new(protocol: &'static str, car: impl Fn(&[u8]) -> Vec<String> + Send + 'static) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let address = listener.local_addr().unwrap().to_string();
        let interruptions = Arc::new(AtomicU32::new(0));
        let count = Arc::clone(&interruptions);
        std::thread::spawn(move || {
            let (stream, _) = listener.accept().unwrap();
            // the end of the line is the end of the play
            let _ = play(stream, protocol, car, &count);
        });
        Self {
            address,
            interruptions,
        }
    }

    /// A session by this clock, and its new capture.
    async fn connect(
        &self,
        capture: &Path,
        clock: Clock,
    ) -> Result<(Session, Writer), RecordError> {
        let device = Device::Network(self.address.clone());
        let session = Session::connect(device, clock).await?;
        let writer = Writer::create(capture, &session.header(None))?;
        Ok((session, writer))
    }

    async fn record(&self, capture: &Path, answers: u64) -> Result<Ending, RecordError> {
        let (mut session, mut writer) = self.connect(capture, Clock::real()).await?;
        let enough = Arc::new(tokio::sync::Notify::new());
        let stop = Arc::clone(&enough);
        let stopped = async || {
            match answers {
                0 => pending().await,
                _ => stop.notified().await,
            }
            RecordingRequest::Stop
        };
        let recorded = session
            .record(Some(&mut writer), None, stopped, |_, progress| {
                if progress.answers == answers {
                    enough.notify_one();
                }
            })
            .await?;
        writer.finish()?;
        assert_eq!(self.interruptions.load(Ordering::Relaxed), 0);
        Ok(recorded.ending)
    }
}

fn play(
    mut stream: TcpStream,
    protocol: &str,
    car: impl Fn(&[u8]) -> Vec<String>,
    interruptions: &AtomicU32,
) -> std::io::Result<()> {
    stream.set_nodelay(true)?;
    loop {
        let mut line = Vec::new();
        let mut byte = [0];
        while byte != *b"\r" {
            stream.read_exact(&mut byte)?;
            line.push(byte[0]);
        }
        let line = String::from_utf8(line).unwrap();
        let answer = match line.trim() {
            "ATZ" => vec![String::new(), "PLAYED ADAPTER V1".to_owned()],
            "ATI" => vec!["PLAYED ADAPTER V1".to_owned()],
            "ATRV" => vec!["12.6V".to_owned()],
            "ATDPN" => vec![protocol.to_owned()],
            word if word.starts_with("AT") => vec!["OK".to_owned()],
            digits => match car(&hex::decode(&digits[..digits.len() / 2 * 2]).unwrap()) {
                lines if lines.is_empty() => vec!["NO DATA".to_owned()],
                lines => lines,
            },
        };
        // up to here it worked: nothing may have come meanwhile
        stream.set_nonblocking(true)?;
        match stream.peek(&mut byte) {
            Err(error) if error.kind() == ErrorKind::WouldBlock => {}
            Ok(0) => return Ok(()),
            _ => {
                interruptions.fetch_add(1, Ordering::Relaxed);
            }
        }
        stream.set_nonblocking(false)?;
        stream.write_all(format!("{}\r\r>", answer.join("\r")).as_bytes())?;
    }
}

/// A CAN frame of controller 7E8: length, data (ISO 15765-2).
fn can(data: &[u8]) -> String {
    assert!(data.len() <= 7);
    format!("7E8{:02X}{}", data.len(), hex::encode(data))
}

/// What is answered to one parameter: engine speed and trims of a warm idle, the mask of those.
fn parameter(pid: u8) -> Option<Vec<u8>> {
    Some(match pid {
        // parameters 03 to 07, 0C, 0D (SAE J1979: highest bit is the first)
        0x00 => vec![0x41, 0x00, 0x3E, 0x18, 0x00, 0x00],
        0x0C => vec![0x41, 0x0C, 0x0B, 0xB8],
        0x03 => vec![0x41, 0x03, 0x02, 0x00],
        0x04..=0x07 | 0x0D => vec![0x41, pid, 0x7B],
        _ => return None,
    })
}

/// Requests of the answered rows.
fn answered(capture: &Path) -> Vec<String> {
    rows(capture, Kind::Data)
}

fn rows(capture: &Path, kind: Kind) -> Vec<String> {
    texts(capture, kind, |row| row.request)
}

/// One text of each row of a kind.
fn texts(capture: &Path, kind: Kind, text: impl for<'a> Fn(&Row<'a>) -> &'a str) -> Vec<String> {
    let mut reader = Reader::open(capture).unwrap();
    let mut texts = Vec::new();
    while let Some(row) = reader.next_row().unwrap() {
        if row.kind == kind {
            texts.push(text(&row).to_owned());
        }
    }
    texts
}

#[tokio::test]
async fn a_can_car_that_refuses_joined_requests_is_soon_asked_one_by_one() {
    let bench = Workbench::new();
    let path = bench.path().join("a.capture.csv");
    let car = Played::new("A6", |request| {
        let data = match request {
            [0x01, pid] => parameter(*pid),
            // 12: not supported in this form (ISO 14229-1)
            [0x01, ..] => Some(vec![0x7F, 0x01, 0x12]),
            _ => None,
        };
        data.iter().map(|data| can(data)).collect()
    });
    car.record(&path, 100).await.unwrap();
    let refused = rows(&path, Kind::None);
    let joined = refused.iter().filter(|request| request.len() > 4).count();
    assert!((2..=8).contains(&joined), "{refused:?}");
    let answered = answered(&path);
    for wanted in ["0104", "0106", "0107", "010C", "010D", "0103"] {
        let times = answered.iter().filter(|request| *request == wanted).count();
        assert!(times > 5, "{wanted}: {times}");
    }
}

#[tokio::test]
async fn what_a_car_leaves_out_of_joined_answers_is_asked_for_alone() {
    let bench = Workbench::new();
    let path = bench.path().join("a.capture.csv");
    // this one answers the first parameter of a request only
    let car = Played::new("A6", |request| {
        let data = match request {
            [0x01, pid, ..] => parameter(*pid),
            _ => None,
        };
        data.iter().map(|data| can(data)).collect()
    });
    car.record(&path, 120).await.unwrap();
    let answered = answered(&path);
    for wanted in ["0104", "0107", "010C", "010D", "0103"] {
        assert!(answered.iter().any(|request| request == wanted), "{wanted}");
    }
}

#[tokio::test]
async fn a_short_memory_for_long_answers_is_respected() {
    let bench = Workbench::new();
    let path = bench.path().join("a.capture.csv");
    let car = Played::new("A6", |request| match request {
        [0x01, pid] => parameter(*pid).iter().map(|data| can(data)).collect(),
        [0x01, ..] => vec!["7E8100E41060104".to_owned(), "BUFFER FULL".to_owned()],
        _ => Vec::new(),
    });
    car.record(&path, 60).await.unwrap();
    let answered = answered(&path);
    assert!(answered.iter().filter(|request| *request == "0106").count() > 3);
}

#[tokio::test]
async fn controllers_without_an_engine_among_them_are_reported() {
    let bench = Workbench::new();
    let path = bench.path().join("a.capture.csv");
    // parameters 01 and 0D alone: a transmission
    let car = Played::new("A6", |request| match request {
        [0x01, 0x00] => vec![can(&[0x41, 0x00, 0x80, 0x08, 0x00, 0x00])],
        _ => Vec::new(),
    });
    let error = car.record(&path, 0).await.unwrap_err();
    assert!(matches!(
        error,
        RecordError::Link(LinkError::NoEngineController)
    ));
}

/// A car that answers `after` requests for current data and from then on only asks to wait (ISO 14229-1, reason 78), or
/// asks to wait for its stored codes alone where there is no such number.
fn stalls(after: Option<u32>) -> Played {
    let asked = AtomicU32::new(0);
    Played::new("A6", move |request| {
        let data = match request {
            [0x01, 0x00] => parameter(0x00),
            [0x01, pid] => {
                let times = asked.fetch_add(1, Ordering::Relaxed);
                match after {
                    Some(after) if times >= after => Some(vec![0x7F, 0x01, 0x78]),
                    _ => parameter(*pid),
                }
            }
            [0x03] => Some(vec![0x7F, 0x03, 0x78]),
            _ => None,
        };
        data.iter().map(|data| can(data)).collect()
    })
}

/// A recording of so long, by a simulated clock. Gives what the link is said to be in trouble with, at the end.
async fn record_for(car: &Played, capture: &Path, length_us: u64) -> Option<String> {
    let (mut session, mut writer) = car.connect(capture, Clock::simulated()).await.unwrap();
    let mut trouble = None;
    let recorded = session.record(
        Some(&mut writer),
        Some(length_us),
        pending,
        |_, progress| {
            trouble.clone_from(&progress.trouble);
        },
    );
    assert_eq!(recorded.await.unwrap().ending, Ending::TimeOver);
    writer.finish().unwrap();
    trouble
}

#[tokio::test]
async fn a_car_that_keeps_asking_to_wait_is_reported_with_what_to_do() {
    let bench = Workbench::new();
    let path = bench.path().join("a.capture.csv");
    let trouble = record_for(&stalls(Some(40)), &path, 60_000_000)
        .await
        .unwrap();
    for words in ["keeps asking to wait", "7E8", "turn the ignition off"] {
        assert!(trouble.contains(words), "{trouble}");
    }
    let link = texts(&path, Kind::Link, |row| row.response);
    assert_eq!(link, [trouble], "once");
}

#[tokio::test]
async fn an_answer_that_never_comes_does_not_hold_up_the_others() {
    let bench = Workbench::new();
    let path = bench.path().join("a.capture.csv");
    let trouble = record_for(&stalls(None), &path, 65_000_000).await;
    assert_eq!(trouble, None, "other answers come");
    let link = texts(&path, Kind::Link, |row| row.response);
    assert!(
        link[0].contains("keeps asking to wait") && link.len() == 2,
        "{link:?}"
    );
    let waited = rows(&path, Kind::None);
    let codes = waited.iter().filter(|request| *request == "03").count();
    assert!((2..=4).contains(&codes), "{waited:?}");
    assert!(answered(&path).len() > 500);
}
