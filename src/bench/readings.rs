//! The readings of a form as plain values, each in its usual unit.

use crate::vehicle::Vehicle;

use super::{
    contradiction,
    mistake::FormError,
    sheet::{Block, Section, Sheet},
};

/// Step of a pressure gauge where the form names none, kPa (common practice).
const USUAL_GAUGE_STEP_KPA: f64 = 5.0;
/// Step of a measuring glass where the form names none, mL (common practice).
const USUAL_GLASS_STEP_ML: f64 = 1.0;
/// Last digit of an ohmmeter where the form names none, ohms (common practice).
const USUAL_OHMS_STEP: f64 = 0.1;
/// Step to which an idle speed can be read where the form names none, rpm (common practice).
const USUAL_RPM_STEP: f64 = 10.0;

/// The smallest steps that the instruments show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Steps {
    /// Step of the ohmmeter, ohms.
    pub ohms: f64,
    /// Step of the pressure gauge, kPa.
    pub gauge_kpa: f64,
    /// Step of the measuring glass, mL.
    pub glass_ml: f64,
    /// Step of the idle speed, rpm.
    pub rpm: f64,
}

impl Steps {
    /// The steps that the form names, or the usual ones.
    pub(super) fn of(general: &Section) -> Self {
        let named = |stem, usual| number(general, stem).unwrap_or(usual);
        Self {
            ohms: named("ohms_step", USUAL_OHMS_STEP),
            gauge_kpa: named("gauge_step", USUAL_GAUGE_STEP_KPA),
            glass_ml: named("glass_step", USUAL_GLASS_STEP_ML),
            rpm: named("rpm_step", USUAL_RPM_STEP),
        }
    }
}

/// All readings; `None` where a value was not measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Readings {
    /// Steps of the instruments.
    pub steps: Steps,
    /// Temperature of the windings, °C.
    pub coil_temperature_c: Option<f64>,
    /// Volume that a good injector delivers on the flow bench, mL in the time of the set.
    pub good_volume_ml: Option<f64>,
    /// Readings of the rail.
    pub rail: RailReadings,
    /// Readings of the injectors in the order of the form.
    pub injectors: Vec<InjectorReadings>,
}

/// Rail pressures, kPa gauge.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct RailReadings {
    /// Pressure at idle or with the pump running, kPa.
    pub pressure_kpa: Option<f64>,
    /// Pressure under load, kPa.
    pub loaded_kpa: Option<f64>,
    /// Pressure ten minutes after switching off, kPa.
    pub after_ten_minutes_kpa: Option<f64>,
}

/// Readings at one injector.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct InjectorReadings {
    /// Cylinder, from 1.
    pub cylinder: u8,
    /// Winding resistance as read, ohms; infinite for an open winding.
    pub ohms: Option<f64>,
    /// Whether the injector clicks.
    pub click: Option<bool>,
    /// Whether the drive pulse arrives.
    pub pulse: Option<bool>,
    /// Drop in engine speed with this cylinder off, rpm.
    pub rpm_drop: Option<f64>,
    /// Drop in rail pressure for the same pulses on every injector, kPa.
    pub drop_kpa: Option<f64>,
    /// Flow bench volume before cleaning, mL, scaled to the time of the first injector where times differ.
    pub volume_ml: Option<f64>,
    /// Flow bench volume after cleaning, mL, scaled to the time of the first injector where times differ.
    pub volume_after_ml: Option<f64>,
    /// Drops per minute from the closed injector at rail pressure, before cleaning.
    pub drops_per_minute: Option<f64>,
    /// Drops per minute from the closed injector at rail pressure, after cleaning.
    pub drops_per_minute_after: Option<f64>,
}

impl Readings {
    /// Reads a form (TOML), every entry optional.
    ///
    /// # Errors
    /// Every entry that cannot be, that contradicts another or that looks like another unit, by line and column.
    pub fn from_toml(text: &str, vehicle: &Vehicle) -> Result<Self, FormError> {
        let mut mistakes = Vec::new();
        let sheet = Sheet::read(text, vehicle.cylinder_count(), &mut mistakes);
        mistakes.extend(contradiction::find(text, &sheet, vehicle));
        match FormError::of(mistakes) {
            Some(error) => Err(error),
            None => Ok(Self::of(&sheet)),
        }
    }

    /// Whether any value was measured.
    pub fn say_anything(&self) -> bool {
        let nothing = |one: &InjectorReadings| {
            let cylinder = one.cylinder;
            *one == InjectorReadings {
                cylinder,
                ..InjectorReadings::default()
            }
        };
        self.rail != RailReadings::default() || !self.injectors.iter().all(nothing)
    }

    fn of(sheet: &Sheet) -> Self {
        let general = |stem| number(&sheet.general, stem);
        let rail = |stem| number(&sheet.rail, stem);
        let time = |block: &Block| {
            let own = number(&block.entries, "volume_time");
            own.or_else(|| number(&sheet.general, "volume_time"))
        };
        let set_time = general("volume_time").or_else(|| sheet.injectors.iter().find_map(time));
        let injectors = sheet.injectors.iter().map(|block| {
            let scale = set_time
                .zip(time(block))
                .map_or(1.0, |(set, own)| set / own);
            injector(block, scale)
        });
        Self {
            steps: Steps::of(&sheet.general),
            coil_temperature_c: general("coil_temperature"),
            good_volume_ml: general("good_volume"),
            rail: RailReadings {
                pressure_kpa: rail("pressure"),
                loaded_kpa: rail("loaded"),
                after_ten_minutes_kpa: rail("after_ten_minutes"),
            },
            injectors: injectors.collect(),
        }
    }

    /// One kind of reading of every injector, in the order of the form.
    pub fn each(&self, of: impl Fn(&InjectorReadings) -> Option<f64>) -> Vec<Option<f64>> {
        self.injectors.iter().map(of).collect()
    }
}

fn injector(block: &Block, volume_scale: f64) -> InjectorReadings {
    let read = |stem| number(&block.entries, stem);
    let yes = |stem| read(stem).map(|value| value > 0.0);
    let fall = || Some(read("start")? - read("end")?);
    let volume = |stem| read(stem).map(|ml| ml * volume_scale);
    InjectorReadings {
        cylinder: block.cylinder,
        ohms: read("ohms"),
        click: yes("click"),
        pulse: yes("pulse"),
        rpm_drop: read("rpm_drop"),
        drop_kpa: read("drop").or_else(fall),
        volume_ml: volume("volume"),
        volume_after_ml: volume("volume_after"),
        drops_per_minute: read("drops_per_minute"),
        drops_per_minute_after: read("drops_per_minute_after"),
    }
}

fn number(section: &Section, stem: &str) -> Option<f64> {
    section.get(stem).map(|written| written.value)
}
