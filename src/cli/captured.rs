//! Captures given on the command line, read into summaries.

use std::path::Path;

use pintle_protocol::{Item, Pid};

use super::failure::Failure;
use crate::{
    capture::{CaptureError, Kind, Reader, Row},
    observation::Observation,
    series::{Builder, summary::Summary},
    vehicle::Vehicle,
};

/// What a capture amounts to, and the vehicle that its header describes.
#[derive(Debug)]
pub struct Captured {
    /// What it says.
    pub summary: Summary,
    /// The vehicle it was recorded on, as far as the header tells.
    pub vehicle: Option<Vehicle>,
}

/// Reads a capture through.
pub fn read(path: &Path) -> Result<Captured, Failure> {
    summarised(path).map_err(|error| Failure::new(path.display(), &error, error.next_step()))
}

fn summarised(path: &Path) -> Result<Captured, CaptureError> {
    let mut reader = Reader::open(path)?;
    let vehicle = reader.header().vehicle.clone();
    let mut builder = Builder::new();
    while let Some(row) = reader.next_row()? {
        if let Some(observation) = value(&row) {
            builder.push(observation);
        }
    }
    Ok(Captured {
        summary: builder.finish(),
        vehicle,
    })
}

/// The number in a row that another logger decoded.
fn value(row: &Row<'_>) -> Option<Observation> {
    let byte = |at: usize| u8::from_str_radix(row.request.get(at..at + 2)?, 16).ok();
    let item = match (row.kind, row.request.len(), byte(0)) {
        (Kind::Value, 4, Some(0x01)) => Item::current(Pid(byte(2)?)),
        (Kind::Value, 6, Some(0x06)) => Item::monitor(byte(2)?, byte(4)?),
        _ => return None,
    };
    Some(Observation {
        t_us: row.t_us,
        item,
        value: row.response.parse().ok()?,
    })
}
