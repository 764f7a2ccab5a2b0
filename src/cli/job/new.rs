//! `pintle job new`: a new visit, asked for on a terminal or given by options.

use std::{
    io::{IsTerminal, stdin},
    path::{Path, PathBuf},
    str::FromStr,
};

use clap::Args;

use crate::{
    cli::{failure::Failure, files, filing, output},
    job::{Folder, JobError, Visit},
    vehicle::Vehicle,
};

/// Open a job for a vehicle that came in; what the options leave out is asked for.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n\
        \x20 pintle job new van3-monday --label \"van 3\" --complaint \"shakes at idle\" \\\n\
        \x20     --mileage 148200km")]
pub(super) struct Arguments {
    /// The new folder; without it, a name with today's date.
    #[arg(value_name = "FOLDER")]
    folder: Option<PathBuf>,
    /// The vehicle file, copied into the job.
    #[arg(long, value_name = "FILE")]
    vehicle: Option<PathBuf>,
    /// What the owner calls the vehicle.
    #[arg(long, value_name = "TEXT")]
    label: Option<String>,
    /// Number of cylinders.
    #[arg(long, value_name = "NUMBER", allow_negative_numbers = true)]
    cylinders: Option<Cylinders>,
    /// The complaint, in the owner's words.
    #[arg(long, value_name = "TEXT")]
    complaint: Option<String>,
    /// Mileage with its unit (`148200km`, `92000mi`).
    #[arg(long, value_name = "DISTANCE", allow_hyphen_values = true)]
    mileage: Option<Distance>,
    /// Do not ask for anything.
    #[arg(long)]
    no_questions: bool,
}

/// A number of cylinders.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Cylinders(u8);

/// A text that is no number of cylinders.
#[derive(Debug, thiserror::Error)]
#[error("expected 1 to 16")]
struct NoCylinders;

impl FromStr for Cylinders {
    type Err = NoCylinders;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let count = text.trim().parse().ok();
        let count = count.filter(|count| (1..=16).contains(count));
        count.map(Self).ok_or(NoCylinders)
    }
}

/// A distance, km.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Distance(f64);

/// A text that is no distance.
#[derive(Debug, thiserror::Error)]
#[error("expected a number and its unit, as in 148200km or 92000mi")]
struct NoDistance;

/// Kilometres of the international mile (NIST SP 811, appendix B).
const KM_PER_MILE: f64 = 1.609_344;
/// More than any odometer shows, km.
const MOST_KM: f64 = 5e6;

impl FromStr for Distance {
    type Err = NoDistance;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let text = text.trim();
        let unit_at = text
            .find(|c: char| c.is_ascii_alphabetic())
            .ok_or(NoDistance)?;
        let (number, unit) = text.split_at_checked(unit_at).ok_or(NoDistance)?;
        let number: f64 = number.trim().parse().map_err(|_| NoDistance)?;
        let km = match unit {
            "km" => number,
            "mi" => number * KM_PER_MILE,
            _ => return Err(NoDistance),
        };
        (0.0..=MOST_KM)
            .contains(&km)
            .then_some(Self(km))
            .ok_or(NoDistance)
    }
}

/// Runs the command.
pub(super) fn run(arguments: &Arguments) -> Result<(), Failure> {
    let vehicle = arguments
        .vehicle
        .as_deref()
        .map(files::read_vehicle)
        .transpose()?;
    let asks = !arguments.no_questions && stdin().is_terminal();
    let asker = Asker { asks };
    let known = vehicle.is_some();
    let mut vehicle = vehicle.unwrap_or_default();
    vehicle.label = answer(&arguments.label, vehicle.label, || {
        asker.text("Vehicle (a name of your own)")
    });
    let count = vehicle.cylinder_count().map(Cylinders);
    let count = answer(&arguments.cylinders, count, || {
        if known {
            None
        } else {
            asker.value("Number of cylinders")
        }
    });
    vehicle.cylinders = count.map(|count| count.0);
    let vehicle = vehicle
        .checked()
        .map_err(|error| Failure::usage(format!("--cylinders: {error}")))?;
    let visit = Visit {
        opened: jiff::Timestamp::now(),
        complaint: answer(&arguments.complaint, None, || {
            asker.text("Complaint, in the owner's words")
        }),
        odometer_km: answer(&arguments.mileage, None, || {
            asker.value("Odometer, with km or mi")
        })
        .map(|distance: Distance| distance.0),
        vehicle,
    };
    let job = match &arguments.folder {
        Some(path) => Folder::create(path, &visit).map_err(filing::failure)?,
        None => dated(&visit)?,
    };
    output::print(&format!("{}\n", job.path().display()))
}

fn answer<T: Clone>(
    option: &Option<T>,
    known: Option<T>,
    ask: impl FnOnce() -> Option<T>,
) -> Option<T> {
    option.clone().or(known).or_else(ask)
}

/// A job in a new folder with the date and the vehicle's name.
fn dated(visit: &Visit) -> Result<Folder, Failure> {
    // the day on the workshop's wall: for people, and nothing is ordered by it
    let now = jiff::Zoned::now().strftime("%Y-%m-%d");
    let stem = format!("job-{now}{}", name_part(&visit.vehicle));
    let mut number = 1;
    loop {
        let name = match number {
            1 => stem.clone(),
            _ => format!("{stem}-{number}"),
        };
        match Folder::create(Path::new(&name), visit) {
            Err(JobError::Exists(_)) if number < 1000 => number += 1,
            made => return made.map_err(filing::failure),
        }
    }
}

/// The vehicle's name as it can stand in the name of a folder.
fn name_part(vehicle: &Vehicle) -> String {
    let label = vehicle.label.as_deref().unwrap_or_default();
    let words = label.split(|c: char| !c.is_alphanumeric());
    let words = words.filter(|word| !word.is_empty()).take(4);
    words
        .map(|word| format!("-{}", word.to_lowercase()))
        .collect()
}

/// Asks on the terminal, where there is one.
struct Asker {
    asks: bool,
}

impl Asker {
    /// A text; `None` for an empty line.
    fn text(&self, question: &str) -> Option<String> {
        if !self.asks {
            return None;
        }
        output::ask(&format!("{question} (Enter: not known): "));
        let mut line = String::new();
        stdin().read_line(&mut line).ok()?;
        let line = line.trim();
        (!line.is_empty()).then(|| line.to_owned())
    }

    /// A value of some form, asked for until it is one or the line is empty.
    fn value<T: FromStr<Err: std::fmt::Display>>(&self, question: &str) -> Option<T> {
        loop {
            match self.text(question)?.parse() {
                Ok(value) => return Some(value),
                Err(error) => output::remark(format_args!("  {error}")),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 100 mi are 160.9344 km.
    #[test]
    fn a_distance_needs_its_unit() {
        assert_eq!("148200 km".parse::<Distance>().unwrap().0, 148_200.0);
        assert!(("100mi".parse::<Distance>().unwrap().0 - 160.9344).abs() < 1e-9);
        for text in ["", "148200", "km", "-1km", "1e99km", "12 furlongs", "NaNkm"] {
            assert!(text.parse::<Distance>().is_err(), "{text}");
        }
    }

    #[test]
    fn a_folder_is_named_for_the_vehicle_whatever_it_is_called() {
        let named = |label: &str| Vehicle {
            label: Some(label.to_owned()),
            ..Vehicle::default()
        };
        assert_eq!(
            name_part(&named("Van 3 / Harbour Row")),
            "-van-3-harbour-row"
        );
        assert_eq!(name_part(&named("../../etc")), "-etc");
        assert_eq!(name_part(&Vehicle::default()), "");
    }
}
