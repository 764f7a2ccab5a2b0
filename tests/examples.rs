//! Every example of the help that needs no car, typed as it is written there, from a folder with the supplied captures.

use std::{
    io::{BufRead, BufReader},
    os::unix::fs::symlink,
    path::Path,
    process::{Child, Command, Stdio},
};

use crate::{harness::Workbench, screen::Terminal};

/// Where the examples have a capture replayed as a car.
const SERVED_AT: &str = "127.0.0.1:20100";

/// Beginnings of the lines behind which examples stand that need no car and nothing that was not supplied.
const HEADINGS: [&str; 3] = ["Example", "Without a car", "in another"];

/// Commands whose examples open a screen.
const WITH_SCREEN: [&str; 2] = ["pintle watch ", "pintle replay "];

/// The examples in a command's help, each in one line.
fn examples(bench: &Workbench, command: &[&str]) -> Vec<String> {
    let help = bench.pintle(command).arg("--help").output().unwrap();
    assert!(help.status.success(), "{command:?}");
    let help = String::from_utf8(help.stdout).unwrap().replace("\\\n", "");
    let mut examples = Vec::new();
    let mut counts = false;
    for line in help.lines() {
        match line.strip_prefix("  pintle ") {
            Some(rest) if counts => examples.push(format!("pintle {rest}")),
            Some(_) => {}
            None => counts = HEADINGS.iter().any(|heading| line.starts_with(heading)),
        }
    }
    assert!(!examples.is_empty(), "{command:?} has no example:\n{help}");
    examples
}

/// A shell that knows the program, in the bench's folder.
fn shell(bench: &Workbench, line: &str) -> Command {
    let program = Path::new(env!("CARGO_BIN_EXE_pintle"));
    let mut path = program.parent().unwrap().as_os_str().to_owned();
    path.push(":");
    path.push(std::env::var_os("PATH").unwrap_or_default());
    let mut shell = Command::new("sh");
    shell
        .args(["-c", line])
        .current_dir(bench.path())
        .env("PATH", path);
    shell
}

/// A served capture; ended when dropped.
struct Served(Child);

impl Served {
    /// Starts it, and gives the option with which a command connects.
    fn start(bench: &Workbench, example: &str) -> (Self, String) {
        // any free port, so that nothing else on this computer is in the way
        let line = format!("exec {}", example.replace(SERVED_AT, "127.0.0.1:0"));
        let mut served = shell(bench, &line).stdout(Stdio::piped()).spawn().unwrap();
        let mut option = String::new();
        let said = served.stdout.take().unwrap();
        BufReader::new(said).read_line(&mut option).unwrap();
        (Self(served), option.trim().to_owned())
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// Opens the screen of an example and leaves it.
fn look(bench: &Workbench, example: &str) {
    let arguments: Vec<&str> = example.split_whitespace().skip(1).collect();
    let mut terminal = Terminal::start(bench, (80, 24), &arguments);
    terminal.wait_for("bank 1");
    terminal.send("q");
    assert!(terminal.wait_for_end().success(), "{example}");
}

fn run(bench: &Workbench, example: &str) {
    let output = shell(bench, example).output().unwrap();
    assert!(
        output.status.success(),
        "{example}: {}",
        String::from_utf8_lossy(&output.stderr)
    );
}

fn tried(command: &[&str]) {
    let bench = Workbench::new();
    symlink(
        Path::new(env!("CARGO_MANIFEST_DIR")).join("captures"),
        bench.path().join("captures"),
    )
    .unwrap();
    // what an example of `job` begins with
    if command.len() == 2 {
        run(&bench, "pintle job new visit");
    }
    let mut served = None;
    for example in examples(&bench, command) {
        if example.contains("--serve") {
            let (running, option) = Served::start(&bench, &example);
            assert!(option.starts_with("--"), "{example}: {option:?}");
            served = Some((running, option));
            continue;
        }
        let example = match &served {
            Some((_, option)) => example.replace(&format!("--tcp {SERVED_AT}"), option),
            None => example,
        };
        if WITH_SCREEN
            .iter()
            .any(|command| example.starts_with(command))
        {
            look(&bench, &example);
        } else {
            run(&bench, &example);
        }
    }
}

#[test]
fn examples_at_the_car_run_on_a_capture_in_its_place() {
    for command in ["ports", "probe", "watch", "record", "codes"] {
        tried(&[command]);
    }
}

#[test]
fn examples_at_the_desk_run_as_written() {
    for command in ["diagnose", "bench", "compare", "replay"] {
        tried(&[command]);
    }
}

#[test]
fn examples_of_a_visit_and_of_files_run_as_written() {
    for command in ["job", "report", "inspect", "import", "export"] {
        tried(&[command]);
    }
    for command in ["new", "choose", "done", "show", "list"] {
        tried(&["job", command]);
    }
}

#[test]
fn examples_of_the_demo_are_there() {
    let bench = Workbench::new();
    let examples = examples(&bench, &["demo"]);
    assert_eq!(examples[0], "pintle demo");
    // the drives of the others take minutes: shortened
    for example in examples
        .iter()
        .filter(|example| !example.contains("--serve"))
    {
        run(
            &bench,
            &format!("{example} --short --no-screen --out {}", example.len()),
        );
    }
}
