//! Small files given on the command line.

use std::{
    fmt, io,
    path::{Path, PathBuf},
};

use super::{failure::Failure, output};
use crate::{
    bench::Readings,
    capture::Damage,
    durable::{folder_of, unfinished_in},
    entries, io_words, stamp,
    vehicle::Vehicle,
};

/// Reads a small text file.
pub fn read_text(path: &Path) -> Result<String, Failure> {
    entries::read_file(path).map_err(|error| match error.kind() {
        io::ErrorKind::NotFound => Failure::new(
            path.display(),
            "there is no such file",
            "check the name and the folder",
        ),
        _ => refused(path.display(), &error),
    })
}

/// What the operating system refuses, as a line for the person.
pub fn refused(thing: impl fmt::Display, error: &io::Error) -> Failure {
    Failure::new(thing, io_words::problem(error), io_words::next_step(error))
}

/// What keeps a new file from being written, as a line for the person.
pub fn not_written(path: &Path, error: &io::Error) -> Failure {
    Failure::new(
        path.display(),
        io_words::problem_of_new_file(error),
        io_words::next_step_for_new_file(error),
    )
}

/// Reads a vehicle file.
pub fn read_vehicle(path: &Path) -> Result<Vehicle, Failure> {
    Vehicle::from_toml(&read_text(path)?)
        .map_err(|error| Failure::new(path.display(), error, "correct that entry"))
}

/// Reads a form of bench readings taken on this vehicle.
pub fn read_bench(path: &Path, vehicle: &Vehicle) -> Result<Readings, Failure> {
    Readings::from_toml(&read_text(path)?, vehicle)
        .map_err(|error| Failure::new(path.display(), error, "correct that entry"))
}

/// The name of a new capture, with date and time in UTC, that is not taken yet.
pub fn dated_name(what: &str) -> PathBuf {
    let now = stamp::now();
    let name = |more: &str| PathBuf::from(format!("{what}-{now}{more}.capture.csv"));
    let free = (2..100).map(|number| name(&format!("-{number}")));
    let mut names = std::iter::once(name("")).chain(free);
    names
        .find(|name| !name.exists())
        .unwrap_or_else(|| name(""))
}

/// Says that a capture was damaged, if it was, and where to learn more.
pub fn remark_damage(path: &Path, damage: &Damage) {
    if !damage.is_none() {
        output::remark(format_args!(
            "{}: skipped damaged lines; `pintle inspect` lists them",
            path.display()
        ));
    }
}

/// Names the unfinished files in the folder of a new one.
pub fn remark_unfinished_beside(path: &Path) {
    for name in names(&unfinished_in(folder_of(path))) {
        output::remark(unfinished(&name));
    }
}

/// Names of files for people and programs.
pub fn names(paths: &[PathBuf]) -> Vec<String> {
    let plain = paths
        .iter()
        .map(|path| path.strip_prefix(".").unwrap_or(path));
    plain.map(|path| path.display().to_string()).collect()
}

/// What an unfinished file is, and what to do with it.
pub fn unfinished(name: &str) -> String {
    format!(
        "{name}: unfinished file of a command that was stopped; delete it unless that command is still running"
    )
}
