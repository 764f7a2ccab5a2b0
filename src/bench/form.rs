//! The form in which bench readings are written down (TOML), every entry optional, every mistake named by its place.

use std::ops::Range;

use serde::Deserialize;
use toml::Spanned;

use crate::vehicle::Vehicle;

/// What was written into the form.
#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Form {
    /// Temperature of the coils when they were measured, °C.
    pub coil_temperature_c: Option<Spanned<f64>>,
    /// Smallest step that the pressure gauge shows, kPa.
    pub gauge_step_kpa: Option<Spanned<f64>>,
    /// Smallest step that the measuring glasses show, mL.
    pub glass_step_ml: Option<Spanned<f64>>,
    /// Pressure in the rail.
    pub rail: Option<RailEntry>,
    /// One entry an injector.
    #[serde(default)]
    pub injector: Vec<InjectorEntry>,
}

/// Pressure in the rail, gauge.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RailEntry {
    /// With the pump running, kPa.
    pub pressure_kpa: Option<Spanned<f64>>,
    /// Ten minutes after the pump was switched off, kPa.
    pub after_ten_minutes_kpa: Option<Spanned<f64>>,
}

/// What was measured at one injector.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct InjectorEntry {
    /// Cylinder, from 1.
    pub cylinder: Spanned<u8>,
    /// Coil resistance as read, ohms; `inf` for an open coil.
    pub ohms: Option<Spanned<f64>>,
    /// Whether it clicks.
    pub click: Option<bool>,
    /// Whether the drive pulse arrives at its plug.
    pub pulse: Option<bool>,
    /// Fall of the rail pressure for the pulses that all injectors got alike, kPa.
    pub drop_kpa: Option<Spanned<f64>>,
    /// Volume in the time that all injectors got alike, mL.
    pub volume_ml: Option<Spanned<f64>>,
}

/// A form that cannot be used, with the place of the mistake.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum FormError {
    /// Not readable as a form; the text names line and column.
    #[error("{0}")]
    Format(String),
    /// A number that cannot be.
    #[error("line {line}, column {column}: {entry} = {found}: expected {expected}")]
    Range {
        /// From 1.
        line: usize,
        /// From 1.
        column: usize,
        /// The entry.
        entry: &'static str,
        /// What was written.
        found: String,
        /// What would be right.
        expected: String,
    },
}

impl Form {
    /// Reads a form and checks each number by itself; a vehicle with known cylinders bounds theirs.
    ///
    /// # Errors
    /// The first mistake, with its place.
    pub fn from_toml(text: &str, vehicle: &Vehicle) -> Result<Self, FormError> {
        let form: Self = toml::from_str(text)
            .map_err(|error| FormError::Format(error.to_string().trim_end().to_owned()))?;
        form.check(text, vehicle)?;
        Ok(form)
    }

    fn check(&self, text: &str, vehicle: &Vehicle) -> Result<(), FormError> {
        let check =
            |entry, value: &Option<Spanned<f64>>, bounds| in_bounds(text, entry, value, bounds);
        check(
            "coil_temperature_c",
            &self.coil_temperature_c,
            (-40.0, 150.0),
        )?;
        check("gauge_step_kpa", &self.gauge_step_kpa, (0.01, 100.0))?;
        check("glass_step_ml", &self.glass_step_ml, (0.01, 20.0))?;
        if let Some(rail) = &self.rail {
            check("pressure_kpa", &rail.pressure_kpa, (0.0, 50_000.0))?;
            check(
                "after_ten_minutes_kpa",
                &rail.after_ten_minutes_kpa,
                (0.0, 50_000.0),
            )?;
        }
        for injector in &self.injector {
            check("ohms", &injector.ohms, (0.0, f64::INFINITY))?;
            check("drop_kpa", &injector.drop_kpa, (0.0, 2_000.0))?;
            check("volume_ml", &injector.volume_ml, (0.0, 1_000.0))?;
        }
        self.check_cylinders(text, vehicle.cylinder_count().unwrap_or(16))
    }

    fn check_cylinders(&self, text: &str, most: u8) -> Result<(), FormError> {
        let mut seen = Vec::new();
        for injector in &self.injector {
            let cylinder = *injector.cylinder.get_ref();
            let expected = match seen.contains(&cylinder) {
                true => "each cylinder once".to_owned(),
                false if (1..=most).contains(&cylinder) => {
                    seen.push(cylinder);
                    continue;
                }
                false => format!("1 to {most}"),
            };
            let place = injector.cylinder.span();
            return Err(mistake(
                text,
                place,
                "cylinder",
                cylinder.to_string(),
                expected,
            ));
        }
        Ok(())
    }
}

/// A number within its bounds; not-a-number never is.
fn in_bounds(
    text: &str,
    entry: &'static str,
    value: &Option<Spanned<f64>>,
    (low, high): (f64, f64),
) -> Result<(), FormError> {
    let Some(value) = value else { return Ok(()) };
    let number = *value.get_ref();
    if (low..=high).contains(&number) {
        return Ok(());
    }
    let expected = match high.is_finite() {
        true => format!("{low} to {high}"),
        false => format!("{low} or more, or inf"),
    };
    Err(mistake(
        text,
        value.span(),
        entry,
        number.to_string(),
        expected,
    ))
}

fn mistake(
    text: &str,
    place: Range<usize>,
    entry: &'static str,
    found: String,
    expected: String,
) -> FormError {
    let before = text.get(..place.start).unwrap_or(text);
    let line_start = before.rfind('\n').map_or(0, |at| at + 1);
    FormError::Range {
        line: before.matches('\n').count() + 1,
        column: before
            .get(line_start..)
            .map_or(0, |line| line.chars().count())
            + 1,
        entry,
        found,
        expected,
    }
}

/// A form to fill in, with an entry for each cylinder.
pub fn empty_form(vehicle: &Vehicle) -> String {
    let mut text = String::from(
        "# Bench readings. Take the mark # away where something was measured; leave the rest.\n\
         # Relieve the fuel pressure first: engine cold, no flame or spark, extinguisher at hand, eye protection.\n\n\
         # coil_temperature_c = 20\n# gauge_step_kpa = 5\n# glass_step_ml = 1\n\n\
         [rail]\n# pressure_kpa = 380\n# after_ten_minutes_kpa = 350\n",
    );
    for cylinder in 1..=vehicle.cylinder_count().unwrap_or(4) {
        text.push_str(&format!(
            "\n[[injector]]\ncylinder = {cylinder}\n# ohms = 14.0          # inf: open\n# click = true\n\
             # pulse = true\n# drop_kpa = 60\n# volume_ml = 50\n"
        ));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_empty_form_can_be_read_and_has_every_cylinder() {
        let vehicle = Vehicle {
            cylinders: Some(6),
            ..Vehicle::default()
        };
        let form = Form::from_toml(&empty_form(&vehicle), &vehicle).unwrap();
        assert_eq!(form.injector.len(), 6);
        // Every entry that is commented out is one that the form knows.
        let filled: String = empty_form(&vehicle)
            .lines()
            .skip(2)
            .map(|line| format!("{}\n", line.trim_start_matches("# ")))
            .collect();
        let filled = Form::from_toml(&filled, &vehicle).unwrap();
        assert!(
            filled
                .injector
                .iter()
                .all(|injector| injector.volume_ml.is_some())
        );
    }

    #[test]
    fn what_cannot_be_is_named_with_its_place() {
        let vehicle = Vehicle {
            cylinders: Some(4),
            ..Vehicle::default()
        };
        let says = |text: &str| Form::from_toml(text, &vehicle).unwrap_err().to_string();
        let negative = says("[[injector]]\ncylinder = 1\nohms = -3.0\n");
        assert!(
            negative.starts_with("line 3, column 8: ohms = -3"),
            "{negative}"
        );
        let ninth = says("[[injector]]\ncylinder = 9\n");
        assert!(
            ninth.contains("line 2, column 12: cylinder = 9: expected 1 to 4"),
            "{ninth}"
        );
        let twice = says("[[injector]]\ncylinder = 1\n[[injector]]\ncylinder = 1\n");
        assert!(
            twice.contains("line 4") && twice.contains("once"),
            "{twice}"
        );
        assert!(says("[[injector]]\ncylinder = 1\nohm = 3\n").contains("line 3"));
        assert!(says("coil_temperature_c = nan").contains("expected -40 to 150"));
    }
}
