//! Small files given on the command line.

use std::{
    fs,
    io::ErrorKind,
    path::{Path, PathBuf},
};

use super::{failure::Failure, output};
use crate::{bench::Readings, capture::Damage, vehicle::Vehicle};

/// Reads a small text file.
pub fn read_text(path: &Path) -> Result<String, Failure> {
    fs::read_to_string(path).map_err(|error| match error.kind() {
        ErrorKind::NotFound => Failure::new(
            path.display(),
            "there is no such file",
            "check the name and the folder",
        ),
        _ => Failure::new(path.display(), error, "check the name and your permission"),
    })
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

/// The name of a new capture, with date and time, that is not taken yet.
pub fn dated_name(what: &str) -> PathBuf {
    let now = jiff::Zoned::now().strftime("%Y-%m-%d-%H%M%S").to_string();
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
            "{}: damaged lines were passed over; `pintle inspect` names them",
            path.display()
        ));
    }
}
