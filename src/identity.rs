//! The car of a recording: what distinguishes one car from another, and whether two recordings can be of one car.
//!
//! A vehicle identification number decides. Without one on both sides the rest is only a fingerprint: what both know and
//! say differently makes two cars likely, what only one of them knows says nothing.

use std::fmt;

use pintle_protocol::{
    Item,
    pid::support,
    service::{Answer, Information},
};
use serde::{Deserialize, Serialize};

mod one_car;
mod support_block;

pub use one_car::{Described, OtherCar, Sighting, check};
pub use support_block::SupportBlock;

/// Monitor of cylinder 1 in service 06; the other cylinders follow (SAE J1979: A2 to AD).
const FIRST_COUNTER: u8 = 0xA2;
/// Cylinders that have a monitor of their own.
const CYLINDERS: usize = 12;
/// The block of service 06 that says which misfire counters there are.
const COUNTERS_BLOCK: (u8, u8) = (0x06, 0xA0);
/// Once a counter was read so often, every counter that the car has was asked for: recordings ask for them in turn, and an
/// answer holds two readings.
const ROUNDS: u8 = 8;

/// What is known of a car's identity.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct CarIdentity {
    /// Vehicle identification number.
    pub vin: Option<String>,
    /// Identifiers of the engine controller's calibrations.
    pub calibrations: Vec<String>,
    /// Address of the engine controller.
    pub engine_controller: Option<String>,
    /// What the engine controller says it supports, each block once.
    pub supported: Vec<SupportBlock>,
    /// What the workshop calls the car.
    pub label: Option<String>,
    /// Whether the car was asked for everything that it has; tables of other loggers hold what somebody chose.
    pub asked_for_all: bool,
    /// How often the misfire counter of each cylinder was read, as far as that matters.
    pub counters: [u8; CYLINDERS],
}

/// How two cars compare.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Likeness {
    /// Both have the same identification number.
    Same,
    /// Their identification numbers differ.
    Different,
    /// At least one has no number, and a feature that both know differs.
    LooksDifferent(Vec<Difference>),
    /// At least one has no number, and nothing that both know differs.
    Unknown,
}

/// A feature that both know and that differs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Difference {
    /// The calibrations of the engine controller.
    Calibrations(String, String),
    /// The address of the engine controller.
    Controller(String, String),
    /// How many cylinders have a misfire counter.
    Counters(u8, u8),
    /// What the engine controller supports.
    Supported,
    /// What the workshop calls the car.
    Label(String, String),
}

impl fmt::Display for Difference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Calibrations(one, other) => write!(f, "calibrations {one} and {other}"),
            Self::Controller(one, other) => write!(f, "engine controllers {one} and {other}"),
            Self::Counters(one, other) => write!(f, "{one} and {other} misfire counters"),
            Self::Supported => f.write_str("other supported items"),
            Self::Label(one, other) => write!(f, "named {one} and {other}"),
        }
    }
}

impl CarIdentity {
    /// Takes what an answer of the engine controller says of the car. The first word stands: a controller that speaks later
    /// is another one.
    pub fn take_answer(&mut self, answer: &Answer) {
        match answer {
            Answer::VehicleIdentificationNumber(number) => self.take_vin(number),
            Answer::Information(Information::CalibrationIdentifiers(identifiers))
                if self.calibrations.is_empty() =>
            {
                let named = identifiers.iter().filter(|name| !name.is_empty());
                self.calibrations = named.cloned().collect();
            }
            Answer::Supported { service, masks } => {
                for (first, mask) in masks {
                    self.take_supported(SupportBlock::new(*service, *first, *mask));
                }
            }
            Answer::Current(parameters) => {
                for (pid, data) in parameters.iter().filter(|(pid, _)| support::is_mask(pid.0)) {
                    if let Ok(mask) = data.as_slice().try_into() {
                        self.take_supported(SupportBlock::new(0x01, pid.0, mask));
                    }
                }
            }
            _ => {}
        }
    }

    /// Takes an identification number; a placeholder (all signs alike, as in a controller that was never programmed) is none.
    pub fn take_vin(&mut self, number: &str) {
        let number = number.trim();
        let mut signs = number.chars();
        let first = signs.next();
        if self.vin.is_none() && signs.any(|sign| Some(sign) != first) {
            self.vin = Some(number.to_ascii_uppercase());
        }
    }

    fn take_supported(&mut self, block: SupportBlock) {
        if !self.supported.iter().any(|known| known.is_of(block)) {
            self.supported.push(block);
        }
    }

    /// Takes note that an item was read, if it is a misfire counter.
    #[inline]
    pub fn take_reading(&mut self, item: Item) {
        if let Item::Monitor { mid, .. } = item
            && let Some(count) = self
                .counters
                .get_mut(usize::from(mid.wrapping_sub(FIRST_COUNTER)))
        {
            *count = count.saturating_add(1);
        }
    }

    /// Whether this and another identity can be of one car.
    pub fn compared_with(&self, other: &Self) -> Likeness {
        if let (Some(one), Some(other)) = (&self.vin, &other.vin) {
            return if one == other {
                Likeness::Same
            } else {
                Likeness::Different
            };
        }
        let differences = self.differences(other);
        if differences.is_empty() {
            Likeness::Unknown
        } else {
            Likeness::LooksDifferent(differences)
        }
    }

    /// The calibrations of both, where they are one car's by its number and the controller was programmed anew.
    pub fn programmed_anew(&self, other: &Self) -> Option<(String, String)> {
        let same = self.compared_with(other) == Likeness::Same;
        let programs = other_calibrations(&self.calibrations, &other.calibrations);
        programs.filter(|_| same)
    }

    /// Features that both know and that differ, identification numbers aside.
    fn differences(&self, other: &Self) -> Vec<Difference> {
        let programs = other_calibrations(&self.calibrations, &other.calibrations);
        let controllers = both(&self.engine_controller, &other.engine_controller)
            .filter(|(one, other)| !one.eq_ignore_ascii_case(other));
        let labels = both(&self.label, &other.label)
            .filter(|(one, other)| plain(one) != plain(other) && !plain(one).is_empty());
        let all = [
            programs.map(|(one, other)| Difference::Calibrations(one, other)),
            controllers.map(|(one, other)| Difference::Controller(one.clone(), other.clone())),
            self.other_counters(other),
            self.supports_other_items(other)
                .then_some(Difference::Supported),
            labels.map(|(one, other)| Difference::Label(one.clone(), other.clone())),
        ];
        all.into_iter().flatten().collect()
    }

    /// Support of items by block, in blocks that both know.
    fn supports_other_items(&self, other: &Self) -> bool {
        let blocks = self.supported.iter().filter(|block| !block.is_counters());
        let mut pairs = blocks.flat_map(|block| other.supported.iter().map(move |b| (block, b)));
        pairs.any(|(one, other)| one.is_of(*other) && one.items() != other.items())
    }

    fn other_counters(&self, other: &Self) -> Option<Difference> {
        let (one, other) = (self.misfire_counters(), other.misfire_counters());
        one.contradicts(other)
            .then(|| Difference::Counters(one.highest(), other.highest()))
    }

    /// Which misfire counters the car is known to have.
    pub fn misfire_counters(&self) -> MisfireCounters {
        let block = self.supported.iter().find(|block| block.is_counters());
        let reported = block.map_or(0, SupportBlock::cylinders);
        if reported != 0 {
            return MisfireCounters {
                cylinders: reported,
                are_all: true,
            };
        }
        let numbered = (0..).zip(self.counters);
        let read = numbered.filter(|(_, readings)| *readings > 0);
        let cylinders = read.fold(0, |all, (number, _)| all | 1_u16 << number);
        MisfireCounters {
            cylinders,
            are_all: self.asked_for_all && self.counters.iter().any(|count| *count >= ROUNDS),
        }
    }
}

/// The cylinders that have a misfire counter, a bit each from cylinder 1 up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MisfireCounters {
    cylinders: u16,
    /// Whether there are no others; otherwise only these were seen.
    are_all: bool,
}

impl MisfireCounters {
    /// The highest cylinder that has one; 0 when none was seen.
    pub const fn highest(self) -> u8 {
        (u16::BITS - self.cylinders.leading_zeros()) as u8
    }

    /// Whether an engine with so many cylinders cannot have these.
    pub const fn exclude(self, cylinders: u8) -> bool {
        let fewer = self.are_all && self.cylinders != 0 && self.highest() < cylinders;
        // beyond cylinder 12 there are no counters
        (fewer && self.highest() < CYLINDERS as u8) || self.highest() > cylinders
    }

    const fn contradicts(self, other: Self) -> bool {
        self.lacks(other) || other.lacks(self)
    }

    /// Whether all of these are known, and another has one beside them.
    const fn lacks(self, other: Self) -> bool {
        self.are_all && self.cylinders != 0 && other.cylinders & !self.cylinders != 0
    }
}

/// Both lists of calibrations, when neither holds all of the other: a list that is only shorter knows less.
fn other_calibrations(one: &[String], other: &[String]) -> Option<(String, String)> {
    let within = |few: &[String], many: &[String]| few.iter().all(|name| many.contains(name));
    (!within(one, other) && !within(other, one)).then(|| (one.join(", "), other.join(", ")))
}

fn both<'a, T>(one: &'a Option<T>, other: &'a Option<T>) -> Option<(&'a T, &'a T)> {
    one.as_ref().zip(other.as_ref())
}

/// A name without what people write now so, now so.
fn plain(name: &str) -> String {
    let signs = name.chars().filter(|sign| sign.is_alphanumeric());
    signs.flat_map(char::to_lowercase).collect()
}

#[cfg(test)]
mod tests;
