//! `--same-car`, and the refusal to mix two cars without it.

use std::path::Path;

use clap::Args;

use super::{failure::Failure, output};
use crate::{
    identity::{self, Described, OtherCar, Sighting},
    vehicle::Vehicle,
};

/// Whether a person has said that it is one car.
#[derive(Debug, Clone, Copy, Default, Args)]
pub struct SameCar {
    /// Treat all as one car although VINs, or misfire counters and vehicle file, say otherwise (its controller was
    /// replaced); the finding says so.
    #[arg(long)]
    pub same_car: bool,
}

impl SameCar {
    /// Refuses to go on with what is surely not of one car. What leaves a doubt, or what the person has overruled, is said
    /// loudly and given, in sentences for the finding.
    pub fn check(
        self,
        seen: &[Sighting],
        described: Option<&Described>,
    ) -> Result<Vec<String>, Failure> {
        let said = identity::check(seen, described, self.same_car).map_err(failure)?;
        said.iter().for_each(output::warn);
        Ok(said)
    }
}

/// The engine by a vehicle file, as far as it says anything that a capture can contradict.
pub fn described(source: impl std::fmt::Display, vehicle: &Vehicle) -> Option<Described> {
    Some(Described {
        source: source.to_string(),
        cylinders: vehicle.cylinder_count()?,
    })
}

/// The engine by the first of these that says anything of it: the vehicle file that was given, the job, a capture's header.
pub fn described_by_first(
    given: Option<(&Path, &Vehicle)>,
    job: Option<Described>,
    header: Option<(&Path, &Vehicle)>,
) -> Option<Described> {
    let by_file = |(path, vehicle): (&Path, &Vehicle)| described(path.display(), vehicle);
    let by_header = |(path, vehicle): (&Path, &Vehicle)| {
        described(format_args!("the header of {}", path.display()), vehicle)
    };
    match given {
        Some(given) => by_file(given),
        None => job.or_else(|| header.and_then(by_header)),
    }
}

/// The refusal as a line for the person at the desk.
fn failure(error: OtherCar) -> Failure {
    let next = error.next_step();
    Failure::of(error, next)
}
