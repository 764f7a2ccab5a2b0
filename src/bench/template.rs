//! An empty form to fill in.

use std::fmt::Write;

use crate::vehicle::Vehicle;

use super::entry::{Entry, GENERAL, INJECTOR, Kind, RAIL};

/// Number of cylinders in a form for an unknown engine.
const USUAL_CYLINDERS: u8 = 4;

/// A form with a block for each cylinder of the vehicle.
pub fn empty_form(vehicle: &Vehicle) -> String {
    let mut text = String::from(
        "# Bench readings. Where something was measured, take the # away and put your number in; leave the rest.\n\
         # Numbers stand alone, with a point for decimals; the unit is the end of the key.\n\
         # Before opening the fuel system: engine cold, pressure relieved, no flame or spark, extinguisher at hand,\n\
         # eye protection and gloves.\n\n",
    );
    section(&mut text, GENERAL, true);
    text.push_str("\n[rail]\n");
    section(&mut text, RAIL, true);
    for cylinder in 1..=vehicle.cylinder_count().unwrap_or(USUAL_CYLINDERS) {
        let _ = write!(text, "\n[[injector]]\ncylinder = {cylinder}\n");
        // each entry is explained once
        section(&mut text, INJECTOR, cylinder == 1);
    }
    text
}

fn section(text: &mut String, entries: &[Entry], explained: bool) {
    for entry in entries {
        let (unit, example) = match &entry.kind {
            Kind::YesNo => ("", "true".to_owned()),
            Kind::Ohms => ("", "14.0".to_owned()),
            Kind::Measure { units, example, .. } => (
                units.first().map_or("", |unit| unit.suffix),
                example.to_string(),
            ),
        };
        let line = format!("# {}{unit} = {example}", entry.stem);
        let _ = if explained {
            writeln!(text, "{line:<34}# {}", entry.meaning)
        } else {
            writeln!(text, "{line}")
        };
    }
}
