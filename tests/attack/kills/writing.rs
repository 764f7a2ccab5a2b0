//! Kills commands that write a file: under its final name is the whole file or none, and what is left over looks like none.

use std::{
    collections::BTreeSet,
    fs,
    io::Write,
    path::{Path, PathBuf},
    process::{Command, Stdio},
    sync::Mutex,
    time::{Duration, Instant},
};

use super::{super::dice, Kills, each};

/// Commands that write a file, and its name.
const COMMANDS: [(&str, &str); 4] = [
    ("import table.csv --out a.capture.csv", "a.capture.csv"),
    (
        "import table.csv --out a.capture.csv.gz",
        "a.capture.csv.gz",
    ),
    ("export big.capture.csv --out long.csv", "long.csv"),
    (
        "export big.capture.csv --shape wide --out wide.csv",
        "wide.csv",
    ),
];

/// Rows of the table.
const ROWS: usize = 60_000;

/// A command with what it writes when it is let.
struct Writing {
    words: &'static str,
    name: &'static str,
    whole: Vec<u8>,
    took: Duration,
}

/// Kills one command after the other until time is over.
pub fn kill_again_and_again(folder: &Path, seed: u64, until: Instant, kills: &Mutex<Kills>) {
    let sources = folder.with_extension("sources");
    let writings = prepare(&sources);
    each(folder, until, |number, folder| {
        let mut dice = dice::of_input(seed, "writing", number);
        let writing = dice.one_of(&writings);
        let mut program = command(writing.words, &sources, folder).spawn().unwrap();
        std::thread::sleep(writing.took.mul_f64(dice.between(0.0, 1.2)));
        program.kill().unwrap();
        program.wait().unwrap();
        look(writing, folder, &mut kills.lock().unwrap());
    });
}

/// Makes the sources, and lets each command come to its end once.
fn prepare(sources: &Path) -> Vec<Writing> {
    fs::create_dir_all(sources).unwrap();
    let mut table = std::io::BufWriter::new(fs::File::create(sources.join("table.csv")).unwrap());
    writeln!(
        table,
        "Time,Engine RPM,STFT B1 (%),LTFT B1 (%),Coolant Temp"
    )
    .unwrap();
    for row in 0..ROWS {
        writeln!(table, "{}.5,{},{}.2,3.1,88", row, 800 + row % 50, row % 7).unwrap();
    }
    table.into_inner().unwrap();
    let big = "import table.csv --out big.capture.csv";
    assert!(command(big, sources, sources).status().unwrap().success());
    let write = |(words, name)| {
        let folder = sources.join("whole");
        fs::create_dir_all(&folder).unwrap();
        let began = Instant::now();
        assert!(command(words, sources, &folder).status().unwrap().success());
        let took = began.elapsed();
        let whole = fs::read(folder.join(name)).unwrap();
        Writing {
            words,
            name,
            whole,
            took,
        }
    };
    COMMANDS.map(write).into()
}

/// The program, to write into this folder.
fn command(words: &str, sources: &Path, folder: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_pintle"));
    command
        .current_dir(folder)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null());
    for word in words.split_whitespace() {
        let source = sources.join(word);
        if source.is_file() && !word.starts_with("a.") {
            command.arg(source)
        } else {
            command.arg(word)
        };
    }
    command
}

fn look(writing: &Writing, folder: &Path, kills: &mut Kills) {
    kills.writings += 1;
    if let Ok(content) = fs::read(folder.join(writing.name)) {
        if content == writing.whole {
            kills.whole += 1
        } else {
            kills.half += 1;
            let (there, all) = (content.len(), writing.whole.len());
            let words = format!("{there} of {all} bytes");
            kills.problem(
                &format!("`{}`: a half file under its final name", writing.words),
                words,
            );
        }
    }
    let entries = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path());
    let others: BTreeSet<PathBuf> = entries
        .filter(|path| !path.ends_with(writing.name))
        .collect();
    for left in others {
        let name = left.display().to_string();
        if [".csv", ".gz", ".html", ".toml", ".json"]
            .iter()
            .any(|ending| name.ends_with(ending))
        {
            kills.problem(
                &format!(
                    "`{}`: leaves what can be taken for a whole file",
                    writing.words
                ),
                name,
            );
        }
    }
}
