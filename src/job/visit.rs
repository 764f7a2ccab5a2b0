//! What was reported when the car came in: `job.toml`. Written once; people may correct it by hand.

use serde::{Deserialize, Serialize};

use crate::{entries, vehicle::Vehicle};

/// The visit of a vehicle.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Visit {
    /// When the job was opened.
    pub opened: jiff::Timestamp,
    /// What the owner complains about, in the owner's words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub complaint: Option<String>,
    /// Odometer, km.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub odometer_km: Option<f64>,
    /// The vehicle, as in a vehicle file.
    #[serde(default)]
    pub vehicle: Vehicle,
}

impl Visit {
    /// Reads `job.toml`.
    ///
    /// # Errors
    /// What does not belong there, with line and column.
    pub(super) fn from_toml(text: &str) -> Result<Self, String> {
        let visit: Self = entries::read(text)?;
        let vehicle = visit.vehicle.checked().map_err(|error| error.to_string())?;
        match visit.odometer_km {
            Some(km) if !(0.0..=5e6).contains(&km) => {
                Err(format!("odometer_km = {km:?}: expected 0 to 5000000"))
            }
            _ => Ok(Self { vehicle, ..visit }),
        }
    }

    /// The text of `job.toml`.
    pub(super) fn to_toml(&self) -> Result<String, String> {
        let entries = toml::to_string(self).map_err(|error| error.to_string())?;
        Ok(format!(
            "# One visit of one vehicle. Correct mistakes by hand; the program writes this file only once.\n{entries}"
        ))
    }
}
