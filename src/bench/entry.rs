//! What a form may hold: every entry with its units and possible values.

/// An entry of a form, known by its stem; a measure's key is the stem with the unit behind it.
#[derive(Debug, PartialEq)]
pub struct Entry {
    /// The key without its unit.
    pub stem: &'static str,
    /// Kind of value.
    pub kind: Kind,
    /// Meaning of the entry, for the person who fills in the form.
    pub meaning: &'static str,
}

/// Kind of value that an entry can hold.
#[derive(Debug, PartialEq)]
pub enum Kind {
    /// `true` or `false`.
    YesNo,
    /// Winding resistance: a number, or `"open"`.
    Ohms,
    /// A number with one of these units.
    Measure {
        /// The units, the usual one first.
        units: &'static [Unit],
        /// Lowest possible value, in the usual unit.
        least: f64,
        /// Highest possible value, in the usual unit.
        most: f64,
        /// An example, in the usual unit.
        example: f64,
    },
}

/// A unit as the end of a key: usual unit = (number + offset) × factor.
#[derive(Debug, PartialEq)]
pub struct Unit {
    /// End of the key, with its underscore; empty for a plain number.
    pub suffix: &'static str,
    /// Number of usual units in one of this unit.
    pub factor: f64,
    /// Number that is added before the factor is applied.
    pub offset: f64,
}

const fn unit(suffix: &'static str, factor: f64, offset: f64) -> Unit {
    Unit {
        suffix,
        factor,
        offset,
    }
}

/// Units of pressure in kPa: bar exactly, psi by NIST SP 811.
pub const PRESSURE: &[Unit] = &[
    unit("_kpa", 1.0, 0.0),
    unit("_bar", 100.0, 0.0),
    unit("_psi", 6.894_757, 0.0),
];
/// Units of temperature in °C; Fahrenheit exactly.
const TEMPERATURE: &[Unit] = &[unit("_c", 1.0, 0.0), unit("_f", 5.0 / 9.0, -32.0)];
/// Unit of volume, mL.
const VOLUME: &[Unit] = &[unit("_ml", 1.0, 0.0)];
/// Unit of time, s.
const TIME: &[Unit] = &[unit("_s", 1.0, 0.0)];
/// A plain number without a unit.
const PLAIN: &[Unit] = &[unit("", 1.0, 0.0)];

const fn measure(
    stem: &'static str,
    units: &'static [Unit],
    [least, most]: [f64; 2],
    example: f64,
    meaning: &'static str,
) -> Entry {
    Entry {
        stem,
        kind: Kind::Measure {
            units,
            least,
            most,
            example,
        },
        meaning,
    }
}

const fn yes_no(stem: &'static str, meaning: &'static str) -> Entry {
    Entry {
        stem,
        kind: Kind::YesNo,
        meaning,
    }
}

/// Time that the flow bench ran; for all injectors, or for one that ran for a different time.
const VOLUME_TIME: Entry = measure(
    "volume_time",
    TIME,
    [0.1, 3_600.0],
    15.0,
    "seconds that the flow bench ran",
);

/// Entries for the whole form.
pub const GENERAL: &[Entry] = &[
    measure(
        "coil_temperature",
        TEMPERATURE,
        [-40.0, 150.0],
        20.0,
        "temperature of the injectors when measured (or coil_temperature_f)",
    ),
    measure(
        "ohms_step",
        PLAIN,
        [0.001, 10.0],
        0.1,
        "last digit that the ohmmeter shows",
    ),
    measure(
        "gauge_step",
        PRESSURE,
        [0.01, 2_000.0],
        5.0,
        "smallest step of the pressure gauge (or _bar, _psi)",
    ),
    measure(
        "glass_step",
        VOLUME,
        [0.01, 20.0],
        1.0,
        "smallest step of the measuring glasses",
    ),
    VOLUME_TIME,
    measure(
        "good_volume",
        VOLUME,
        [0.1, 2_000.0],
        55.0,
        "what a good injector delivers in that time, by its data sheet",
    ),
    measure(
        "rpm_step",
        PLAIN,
        [1.0, 100.0],
        10.0,
        "how well the idle speed can be read, rpm",
    ),
];

/// Lowest and highest rail pressure that a form accepts, kPa: direct injection goes up to 500 bar (common practice).
const RAIL_KPA: [f64; 2] = [0.0, 50_000.0];

/// Entries below `[rail]`.
pub const RAIL: &[Entry] = &[
    measure(
        "pressure",
        PRESSURE,
        RAIL_KPA,
        380.0,
        "at idle or with the pump running (or _bar, _psi)",
    ),
    measure(
        "loaded",
        PRESSURE,
        RAIL_KPA,
        375.0,
        "under load or at full fuel flow",
    ),
    measure(
        "after_ten_minutes",
        PRESSURE,
        RAIL_KPA,
        350.0,
        "ten minutes after switching off",
    ),
];

/// Entries of an `[[injector]]`, besides its cylinder.
pub const INJECTOR: &[Entry] = &[
    Entry {
        stem: "ohms",
        kind: Kind::Ohms,
        meaning: "resistance of the injector winding as read; \"open\" for no continuity",
    },
    yes_no("click", "it clicks when driven"),
    yes_no("pulse", "the drive pulse arrives at its plug"),
    measure(
        "rpm_drop",
        PLAIN,
        [-200.0, 500.0],
        60.0,
        "drop of the idle speed while it is disabled",
    ),
    measure(
        "drop",
        PRESSURE,
        [0.0, 20_000.0],
        60.0,
        "pressure drop for equal pulses (or _bar, _psi; or start and end)",
    ),
    measure(
        "start",
        PRESSURE,
        RAIL_KPA,
        380.0,
        "instead of drop: pressure before the pulses",
    ),
    measure(
        "end",
        PRESSURE,
        RAIL_KPA,
        320.0,
        "instead of drop: pressure after them",
    ),
    measure(
        "volume",
        VOLUME,
        [0.0, 2_000.0],
        50.0,
        "flow bench, as found",
    ),
    measure(
        "volume_after",
        VOLUME,
        [0.0, 2_000.0],
        54.0,
        "flow bench, after cleaning",
    ),
    VOLUME_TIME,
    measure(
        "drops_per_minute",
        PLAIN,
        [0.0, 600.0],
        0.0,
        "leakage at rail pressure, as found",
    ),
    measure(
        "drops_per_minute_after",
        PLAIN,
        [0.0, 600.0],
        0.0,
        "leakage after cleaning",
    ),
];

impl Entry {
    /// Every key that the entry may have.
    pub fn keys(&self) -> Vec<String> {
        match &self.kind {
            Kind::Measure { units, .. } => units
                .iter()
                .map(|unit| format!("{}{}", self.stem, unit.suffix))
                .collect(),
            Kind::YesNo | Kind::Ohms => vec![self.stem.to_owned()],
        }
    }
}
