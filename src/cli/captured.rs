//! Captures given on the command line, read into summaries.

use std::path::{Path, PathBuf};

use pintle_protocol::{
    Pid,
    dtc::TroubleCode,
    service::{self, Answer, Information},
};

use super::{failure::Failure, files};
use crate::{
    capture::{CaptureError, Fact, Observations},
    series::{
        Builder,
        course::Course,
        misfire_frame::is_misfire,
        summary::{CodeList, CodeSeen, Summary},
    },
    vehicle::Vehicle,
};

/// What a capture amounts to, and the vehicle that its header describes.
#[derive(Debug)]
pub struct Captured {
    /// What it says.
    pub summary: Summary,
    /// The vehicle it was recorded on, as far as the header tells.
    pub vehicle: Option<Vehicle>,
    /// When it was started, as far as the header tells.
    pub started: Option<jiff::Timestamp>,
    /// How the trip went; empty unless it was asked for.
    pub course: Course,
}

/// Several captures of one car.
#[derive(Debug, Default)]
pub struct OfOneCar {
    /// What each says.
    pub summaries: Vec<Summary>,
    /// The vehicle, by the first header that tells.
    pub vehicle: Option<Vehicle>,
}

/// Reads captures of one car through.
pub fn read_all(paths: &[PathBuf]) -> Result<OfOneCar, Failure> {
    let mut all = OfOneCar::default();
    for path in paths {
        let captured = read(path)?;
        all.vehicle = all.vehicle.or(captured.vehicle);
        all.summaries.push(captured.summary);
    }
    Ok(all)
}

/// Reads a capture through.
pub fn read(path: &Path) -> Result<Captured, Failure> {
    read_into(path, Builder::new())
}

/// Reads a capture through, and keeps the trip's course.
pub fn read_with_course(path: &Path) -> Result<Captured, Failure> {
    read_into(path, Builder::keeping_course())
}

fn read_into(path: &Path, builder: Builder) -> Result<Captured, Failure> {
    summarised(path, builder)
        .map_err(|error| Failure::new(path.display(), &error, error.next_step()))
}

fn summarised(path: &Path, mut builder: Builder) -> Result<Captured, CaptureError> {
    let observations = Observations::open(path)?;
    let (vehicle, started) = (
        observations.header().vehicle.clone(),
        observations.header().started,
    );
    if let Some(started) = started {
        builder.push_start(started);
    }
    let damage = observations.for_each(|fact| match fact {
        Fact::Reading(reading) => builder.push(reading),
        Fact::Answer { answer, .. } => take_answer(answer, &mut builder),
        Fact::Mark { .. } | Fact::Link { .. } => {}
    })?;
    files::remark_damage(path, &damage);
    let (summary, course) = builder.finish_with_course();
    Ok(Captured {
        summary,
        vehicle,
        started,
        course,
    })
}

/// Takes what a judgement needs of an answer without numbers.
fn take_answer(answer: &Answer, builder: &mut Builder) {
    match answer {
        Answer::VehicleIdentificationNumber(number) => builder.push_vin(number),
        Answer::Information(Information::CalibrationIdentifiers(identifiers)) => {
            builder.push_calibrations(identifiers);
        }
        Answer::Supported { service: 1, masks } => {
            for (block, mask) in masks {
                builder.push_supported(*block, *mask);
            }
        }
        Answer::Codes { list, codes } => {
            let list = match list {
                service::CodeList::Stored => CodeList::Stored,
                service::CodeList::Pending => CodeList::Pending,
                service::CodeList::Permanent => CodeList::Permanent,
            };
            for code in codes {
                let code = code.code.to_string();
                builder.push_code(CodeSeen { code, list });
            }
        }
        Answer::FreezeFrame { pid, data, .. } => take_frozen(*pid, data, builder),
        Answer::Snapshots { code, snapshots } if is_misfire(code.code) => {
            builder.push_frozen_code(code.code);
            for (pid, data) in snapshots.iter().flat_map(|snapshot| &snapshot.values) {
                builder.push_frozen_value(*pid, data);
            }
        }
        _ => {}
    }
}

/// A value of the freeze frame, or in place of a value the code that it belongs to (PID 02).
fn take_frozen(pid: Pid, data: &[u8], builder: &mut Builder) {
    match (pid, data) {
        (Pid(0x02), [high, low]) => {
            if let Some(code) = TroubleCode::from_bytes([*high, *low]) {
                builder.push_frozen_code(code);
            }
        }
        _ => builder.push_frozen_value(pid, data),
    }
}
