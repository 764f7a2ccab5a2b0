//! Small files given on the command line.

use std::{fs, path::Path};

use super::{failure::Failure, output};
use crate::{bench::Readings, capture::Damage, vehicle::Vehicle};

/// Reads a small text file.
pub fn read_text(path: &Path) -> Result<String, Failure> {
    fs::read_to_string(path)
        .map_err(|error| Failure::new(path.display(), error, "check the name and your permission"))
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

/// Says that a capture was damaged, if it was, and where to learn more.
pub fn remark_damage(path: &Path, damage: &Damage) {
    if !damage.is_none() {
        output::remark(format_args!(
            "{}: damaged lines were passed over; `pintle inspect` names them",
            path.display()
        ));
    }
}
