//! Inputs that once broke the program, kept in `inputs/` by the attack (`cargo bench --bench attack`) or written by hand:
//! each is taken in as the attack would. The program may refuse any of them, in its own words, and do nothing else.

#[allow(dead_code, reason = "drawing is left to the attack")]
mod dice;
mod material;
#[allow(dead_code, reason = "drawing is left to the attack")]
mod mutate;
mod said;
#[allow(dead_code, reason = "drawing is left to the attack")]
mod target;

use std::{
    fs,
    path::{Path, PathBuf},
    time::Duration,
};

use assert_cmd::Command;

use material::Material;
use target::{File, PAGE, Place, TARGETS, Take};

/// No input may take longer, however busy the computer is.
const AT_MOST: Duration = Duration::from_secs(120);
/// Most memory that the program may take for an input, KiB of address space.
const MEMORY_KIB: u32 = 1 << 20;

/// A test for each target, so that they run side by side.
macro_rules! replay {
    ($($test:ident $target:literal)+) => {
        const REPLAYED: &[&str] = &[$($target),+];
        $(
            #[test]
            fn $test() {
                replay($target);
            }
        )+
    };
}

replay! {
    exchanges "exchange"
    single_replies "reply"
    conversations "replies"
    unreliable_adapters "adapter"
    captures "capture"
    compressed_captures "compressed"
    traces "trace"
    tables "table"
    column_maps "column-map"
    vehicle_files "vehicle"
    bench_readings "readings"
    priors "priors"
    visits "visit"
    recordings "recording"
    giants "giant"
}

#[test]
fn every_kept_input_is_taken_in_by_a_test() {
    let targets: Vec<&str> = TARGETS.iter().map(|target| target.name).collect();
    assert_eq!(REPLAYED, targets);
    for folder in fs::read_dir(inputs()).unwrap() {
        let folder = folder.unwrap().file_name();
        assert!(targets.iter().any(|target| folder == *target), "{folder:?}");
    }
}

fn inputs() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/attack/inputs")
}

/// Takes in every input that is kept for this target.
fn replay(name: &str) {
    let target = TARGETS.iter().find(|target| target.name == name).unwrap();
    let Ok(inputs) = fs::read_dir(inputs().join(name)) else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    for input in inputs {
        let input = input.unwrap().path();
        println!("{}", input.display());
        match &target.take {
            Take::Bytes(take) => take(&fs::read(&input).unwrap()),
            Take::File(file) => take_file(file, &input, folder.path()),
        }
    }
}

fn take_file(file: &File, input: &Path, folder: &Path) {
    let material = folder.join("material");
    if !material.exists() {
        fs::create_dir(&material).unwrap();
        Material::make(&material);
    }
    let new = tempfile::tempdir_in(folder).unwrap();
    let place = Place {
        file: input.to_owned(),
        new: new.path().to_owned(),
        material: &Material::read(&material),
    };
    (file.prepare)(&place);
    for command in file.commands {
        let mut program = program();
        let output = program
            .args(place.words(command))
            .timeout(AT_MOST)
            .output()
            .unwrap();
        said::check(&output.stdout, &output.stderr);
        let words = String::from_utf8_lossy(&output.stderr);
        // done or refused; 2 would mean that the command is not called like that any more
        assert!(
            matches!(output.status.code(), Some(0 | 1)),
            "{command}: {} {words}",
            output.status
        );
    }
    said::check_page(&place.new.join(PAGE));
    (file.inside)(input);
}

/// The program below the ceiling of memory.
#[cfg(unix)]
fn program() -> Command {
    let mut command = Command::new("sh");
    let limited = format!("ulimit -v {MEMORY_KIB}; exec \"$0\" \"$@\"");
    command.args(["-c", &limited, env!("CARGO_BIN_EXE_pintle")]);
    command
}

/// The program; ceilings are set differently here.
#[cfg(not(unix))]
fn program() -> Command {
    Command::new(env!("CARGO_BIN_EXE_pintle"))
}
