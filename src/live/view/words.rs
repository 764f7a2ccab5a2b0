//! Why a second counts or does not, in the words of the second line.

use crate::series::{course::Second, label::Label};

/// What the second is, in one or two words, and why.
pub fn counting(second: &Second) -> (bool, String) {
    let region = second
        .region
        .map_or("between the regions", |region| region.words());
    let coolant = || match second.running.coolant_c {
        Some(coolant) => format!("engine not warm yet, coolant {coolant:.0} °C"),
        None => "engine not warm yet".to_owned(),
    };
    match second.label {
        Label::Used => (true, region.to_owned()),
        Label::EngineOff => (false, "engine does not run".to_owned()),
        Label::Stale => (false, "readings come too rarely".to_owned()),
        Label::Implausible => (false, "a reading cannot be true".to_owned()),
        Label::Cold => (false, coolant()),
        Label::OpenLoop => (
            false,
            "mixture not controlled by the oxygen sensors".to_owned(),
        ),
        Label::FuelCut => (false, "overrun without fuel".to_owned()),
        Label::Transient => (
            false,
            "speed or load moves too fast, hold the pedal still".to_owned(),
        ),
        Label::Relearn => (false, "long term trim settles after clearing".to_owned()),
    }
}
