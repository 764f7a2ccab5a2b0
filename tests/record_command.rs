//! `pintle record` in a process of its own: how it is stopped, and what it says meanwhile.

use std::{
    io::{BufRead, BufReader},
    path::PathBuf,
    process::{Child, Command, Stdio},
};

use pintle::capture::Reader;

use crate::{
    bay::Bay,
    harness::Workbench,
    recording::{LOST, count, lines, link_states},
};

/// The program recording in a process of its own.
pub struct Program {
    child: Child,
    remarks: BufReader<std::process::ChildStderr>,
    capture: PathBuf,
}

impl Program {
    pub fn start(bench: &Workbench, bay: &Bay, more: &[&str]) -> Self {
        let capture = bench.path().join("a.capture.csv");
        let mut child = Command::new(env!("CARGO_BIN_EXE_pintle"))
            .args(["record", "--port", bay.path(), "--out"])
            .arg(&capture)
            .args(more)
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let remarks = BufReader::new(child.stderr.take().unwrap());
        Self {
            child,
            remarks,
            capture,
        }
    }

    /// Reads what the program remarks up to a line that holds these words.
    pub fn wait_for(&mut self, words: &str) -> String {
        let mut all = String::new();
        while !all.contains(words) {
            assert_ne!(self.remarks.read_line(&mut all).unwrap(), 0, "{all}");
        }
        all
    }

    /// Waits until the file has grown beyond so many bytes.
    fn wait_for_rows(&self, bytes: u64) {
        while std::fs::metadata(&self.capture).map_or(0, |file| file.len()) < bytes {
            std::thread::yield_now();
        }
    }

    pub fn signal(&self, name: &str) {
        let sent = Command::new("kill")
            .args([name, &self.child.id().to_string()])
            .status();
        assert!(sent.unwrap().success());
    }

    pub fn end(mut self) -> (Option<i32>, String) {
        let mut rest = String::new();
        while self.remarks.read_line(&mut rest).unwrap() > 0 {}
        (self.child.wait().unwrap().code(), rest)
    }
}

#[test]
fn the_program_records_for_the_time_asked_and_says_where() {
    let bench = Workbench::new();
    let bay = Bay::simulated("van3");
    let vehicle = bench.file("van3.toml", "label = \"van 3\"\ncylinders = 4\n");
    let vehicle = vehicle.to_str().unwrap();
    let mut program = Program::start(&bench, &bay, &["--for", "2s", "--vehicle", vehicle]);
    let capture = program.capture.clone();
    assert!(program.wait_for("recording;").contains("a.capture.csv"));
    let (code, rest) = program.end();
    assert_eq!(code, Some(0), "{rest}");
    assert!(
        rest.contains("a.capture.csv") && rest.contains("answers"),
        "{rest}"
    );
    let lines = lines(&capture);
    assert!(lines.last().unwrap().t_us >= 2_000_000);
    let header = Reader::open(&capture).unwrap().header().clone();
    assert_eq!(header.vehicle.unwrap().cylinders, Some(4));
}

#[test]
fn an_interrupt_and_a_termination_save_and_exit_130() {
    let interrupted = |signal: &str| {
        let bench = Workbench::new();
        let bay = Bay::real("van7");
        let mut program = Program::start(&bench, &bay, &[]);
        let capture = program.capture.clone();
        program.wait_for("recording;");
        program.wait_for_rows(2_000);
        program.signal(signal);
        let (code, rest) = program.end();
        assert_eq!(code, Some(130), "{rest}");
        assert!(
            rest.contains("stopped") && rest.contains("a.capture.csv"),
            "{rest}"
        );
        assert!(count(&lines(&capture), "03") == 1);
    };
    std::thread::scope(|scope| {
        scope.spawn(|| interrupted("-INT"));
        scope.spawn(|| interrupted("-TERM"));
    });
}

#[test]
fn a_capture_deleted_meanwhile_is_written_anew_and_named() {
    let bench = Workbench::new();
    let bay = Bay::real("van3");
    let mut program = Program::start(&bench, &bay, &[]);
    let capture = program.capture.clone();
    program.wait_for("recording;");
    program.wait_for_rows(2_000);
    std::fs::remove_file(&capture).unwrap();
    let said = program.wait_for("a-002.capture.csv");
    assert!(said.contains("was deleted"), "{said}");
    program.signal("-INT");
    let (code, rest) = program.end();
    assert_eq!(code, Some(130), "{rest}");
    assert!(rest.contains("a-002.capture.csv"), "{rest}");
    assert!(!capture.exists());
    let lines = lines(&bench.path().join("a-002.capture.csv"));
    assert_eq!(lines[0].response, "recording starts");
    let deleted = link_states(&lines)
        .iter()
        .any(|words| words.contains("was deleted"));
    assert!(deleted);
    assert_eq!(lines.last().unwrap().response, "recording ends");
}

#[test]
fn an_interrupt_before_the_car_answers_leaves_no_file() {
    let bench = Workbench::new();
    let silent = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let address = silent.local_addr().unwrap().to_string();
    let child = Command::new(env!("CARGO_BIN_EXE_pintle"))
        .args(["record", "--tcp", &address])
        .current_dir(bench.path())
        .spawn()
        .unwrap();
    let (mut stream, _) = silent.accept().unwrap();
    // the first byte shows that the program is under way
    std::io::Read::read_exact(&mut stream, &mut [0]).unwrap();
    let id = child.id().to_string();
    assert!(
        Command::new("kill")
            .args(["-INT", &id])
            .status()
            .unwrap()
            .success()
    );
    assert_eq!(child.wait_with_output().unwrap().status.code(), Some(130));
    assert_eq!(std::fs::read_dir(bench.path()).unwrap().count(), 0);
}

#[test]
fn a_pulled_plug_is_reported_and_waited_for_until_the_person_stops() {
    let bench = Workbench::new();
    let bay = Bay::real("van7");
    let mut program = Program::start(&bench, &bay, &[]);
    let capture = program.capture.clone();
    program.wait_for("recording;");
    program.wait_for_rows(2_000);
    drop(bay);
    program.wait_for("lost: device disconnected");
    program.signal("-INT");
    assert_eq!(program.end().0, Some(130));
    let lines = lines(&capture);
    assert_eq!(link_states(&lines), [LOST]);
    assert_eq!(count(&lines, "03"), 1);
}
