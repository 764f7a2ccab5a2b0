//! Faults that can be put into a simulated car, and how a person writes them.

use std::{fmt, str::FromStr};

use crate::cause::{Cause, Scope, UnknownCause};

use crate::simulator::car::fleet::CarSpec;

/// One fault with its place and size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fault {
    /// What is wrong.
    pub cause: Cause,
    /// Cylinder or bank from 1, by the cause's [`Scope`]; `None` where the whole engine is meant.
    pub place: Option<u8>,
    /// Size in the cause's [`Cause::severity_quantity`]; 0 where there is no more or less.
    pub severity: f64,
}

/// Why a fault cannot be had.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FaultError {
    /// No such cause.
    #[error(transparent)]
    Cause(#[from] UnknownCause),
    /// The parts after the cause are too few, too many or no numbers.
    #[error("{given:?}: expected {expected}")]
    Form {
        /// What was written.
        given: String,
        /// How it should be written.
        expected: String,
    },
    /// A size outside what can be simulated.
    #[error("{cause}: {quantity} {given} is outside {low} to {high}")]
    Severity {
        /// The cause.
        cause: Cause,
        /// Name of the severity quantity.
        quantity: &'static str,
        /// What was written.
        given: f64,
        /// Smallest size.
        low: f64,
        /// Largest size.
        high: f64,
    },
    /// A place that this car does not have.
    #[error("{cause}: {car} has no {scope} {place}")]
    Place {
        /// The cause.
        cause: Cause,
        /// The car.
        car: &'static str,
        /// `bank` or `cylinder`.
        scope: &'static str,
        /// What was written.
        place: u8,
    },
    /// A cause that sets the banks apart, on an engine with one bank.
    #[error("{cause}: {car} has only one bank")]
    OneBank {
        /// The cause.
        cause: Cause,
        /// The car.
        car: &'static str,
    },
}

impl Fault {
    /// Checks that the car has the fault's place.
    pub fn check(&self, spec: &CarSpec) -> Result<(), FaultError> {
        let (scope, count) = match self.cause.scope() {
            Scope::Engine => return Ok(()),
            Scope::Bank => ("bank", spec.banks.len()),
            Scope::Cylinder => ("cylinder", spec.cylinder_count()),
        };
        let apart = [Cause::IntakeLeakOneBank, Cause::ExhaustBlockedOneBank].contains(&self.cause);
        let (cause, car) = (self.cause, spec.label);
        if apart && spec.banks.len() < 2 {
            return Err(FaultError::OneBank { cause, car });
        }
        let place = self.place.unwrap_or(0);
        if (1..=count).contains(&usize::from(place)) {
            return Ok(());
        }
        Err(FaultError::Place {
            cause,
            car,
            scope,
            place,
        })
    }
}

/// Smallest, usual and largest size of a cause that has more or less; the usual one stands when none is written.
const fn sizes(cause: Cause) -> Option<[f64; 3]> {
    Some(match cause {
        Cause::NoneFound | Cause::InjectorDead => return None,
        Cause::InjectorRestricted => [0.0, 30.0, 95.0],
        Cause::InjectorsRestrictedSeveral => [0.0, 15.0, 60.0],
        Cause::InjectorLeaking => [0.0, 40.0, 300.0],
        Cause::IntakeLeak | Cause::IntakeLeakOneBank => [0.0, 15.0, 50.0],
        Cause::AirMeterLow | Cause::AirMeterHigh => [0.0, 10.0, 40.0],
        Cause::FuelPressureLow | Cause::FuelPressureHigh => [0.0, 20.0, 60.0],
        Cause::IgnitionWeak => [0.0, 5.0, 100.0],
        Cause::CompressionLow => [0.0, 40.0, 100.0],
        Cause::ExhaustLeak => [0.0, 10.0, 40.0],
        Cause::ExhaustBlockedOneBank => [0.0, 15.0, 50.0],
        Cause::PurgeStuck => [0.0, 10.0, 50.0],
        Cause::FuelBlend => [-10.0, 15.0, 75.0],
        Cause::MisfireRandom => [0.0, 1.0, 50.0],
    })
}

const fn form(cause: Cause) -> &'static str {
    match (cause.scope(), sizes(cause).is_some()) {
        (Scope::Engine, false) => "",
        (Scope::Engine, true) => "[:SIZE]",
        (Scope::Bank, _) => ":BANK[:SIZE]",
        (Scope::Cylinder, false) => ":CYLINDER",
        (Scope::Cylinder, true) => ":CYLINDER[:SIZE]",
    }
}

impl FromStr for Fault {
    type Err = FaultError;

    /// Reads `cause[:place][:severity]`: the place is a bank or a cylinder where the cause has one, the severity is in
    /// the cause's quantity and may be left out (`injector_restricted:3:30`, `injector_dead:2`, `intake_leak:12`).
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let mut parts = text.split(':');
        let cause: Cause = parts.next().unwrap_or_default().parse()?;
        let wrong = || FaultError::Form {
            given: text.to_owned(),
            expected: format!("{cause}{}", form(cause)),
        };
        let place = match cause.scope() {
            Scope::Engine => None,
            Scope::Bank | Scope::Cylinder => {
                let place = parts.next().and_then(|part| part.parse().ok());
                Some(place.ok_or_else(wrong)?)
            }
        };
        let severity = match (sizes(cause), parts.next()) {
            (None, None) => 0.0,
            (Some([_, usual, _]), None) => usual,
            (Some(_), Some(part)) => part.parse().map_err(|_| wrong())?,
            (None, Some(_)) => return Err(wrong()),
        };
        if parts.next().is_some() {
            return Err(wrong());
        }
        in_range(cause, severity)?;
        Ok(Self {
            cause,
            place,
            severity,
        })
    }
}

fn in_range(cause: Cause, given: f64) -> Result<(), FaultError> {
    match (sizes(cause), cause.severity_quantity()) {
        (Some([low, _, high]), Some(quantity)) if !(low..=high).contains(&given) => {
            Err(FaultError::Severity {
                cause,
                quantity: quantity.id(),
                given,
                low,
                high,
            })
        }
        _ => Ok(()),
    }
}

impl fmt::Display for Fault {
    /// As it is read.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.cause)?;
        if let Some(place) = self.place {
            write!(f, ":{place}")?;
        }
        match sizes(self.cause) {
            Some(_) => write!(f, ":{}", self.severity),
            None => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::simulator::car::fleet;

    #[test]
    fn every_cause_is_read_back_as_written() {
        for text in [
            "none_found",
            "injector_restricted:3:30",
            "injectors_restricted_several:2:12.5",
            "injector_dead:2",
            "injector_leaking:1:40",
            "intake_leak:12",
            "intake_leak_one_bank:2:20",
            "air_meter_low:10",
            "air_meter_high:8",
            "fuel_pressure_low:20",
            "fuel_pressure_high:15",
            "ignition_weak:4:6",
            "compression_low:1:50",
            "exhaust_leak:1:10",
            "exhaust_blocked_one_bank:1:20",
            "purge_stuck:10",
            "fuel_blend:-10",
            "misfire_random:1.5",
        ] {
            assert_eq!(text.parse::<Fault>().unwrap().to_string(), text);
        }
    }

    #[test]
    fn what_cannot_be_had_is_refused_with_its_reason() {
        let says = |text: &str| text.parse::<Fault>().unwrap_err().to_string();
        let unknown = says("injector");
        assert!(unknown.starts_with("\"injector\" is not a known cause"));
        assert!(unknown.contains("injector_dead, "), "{unknown}");
        assert_eq!(
            says("injector_restricted"),
            "\"injector_restricted\": expected injector_restricted:CYLINDER[:SIZE]"
        );
        assert!(says("injector_dead:1:30").ends_with("expected injector_dead:CYLINDER"));
        assert!(says("intake_leak:12:3").ends_with("expected intake_leak[:SIZE]"));
        assert!(says("air_meter_low:NaN").contains("outside 0 to 40"));
        assert_eq!(
            says("injector_restricted:3:130"),
            "injector_restricted: flow_loss_pct 130 is outside 0 to 95"
        );
    }

    #[test]
    fn a_place_that_the_car_lacks_is_refused() {
        let van = fleet::car("van3").unwrap();
        let on_van = |text: &str| text.parse::<Fault>().unwrap().check(van);
        assert_eq!(on_van("injector_restricted:4:30"), Ok(()));
        let fifth = on_van("injector_restricted:5:30").unwrap_err();
        assert_eq!(
            fifth.to_string(),
            "injector_restricted: van 3 has no cylinder 5"
        );
        let one_bank = on_van("exhaust_blocked_one_bank:1:20").unwrap_err();
        assert_eq!(
            one_bank.to_string(),
            "exhaust_blocked_one_bank: van 3 has only one bank"
        );
    }
}
