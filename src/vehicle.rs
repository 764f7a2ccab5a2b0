//! The vehicle file: what is known about the car. Everything in it is optional; what is missing stays open.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::{bank::Bank, entries};

/// Largest winding resistance that a vehicle file accepts, ohms (common practice: piezo stacks have 150 to 250 kΩ).
const MOST_OHMS: f64 = 1e6;
/// Largest rail pressure that a vehicle file accepts, kPa: twice the highest of direct injection (common practice: 500
/// bar).
const MOST_RAIL_KPA: f64 = 1e5;
/// Largest price that a vehicle file accepts, in any currency (assumed).
pub const MOST_MONEY: f64 = 1e9;

/// What the workshop knows about a vehicle (TOML on disk, JSON in a capture's header).
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Vehicle {
    /// The owner's name for the car.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub label: Option<String>,
    /// Number of cylinders, 1 to 16.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cylinders: Option<u8>,
    /// Cylinder numbers of each bank, bank 1 first.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub banks: Option<Vec<Vec<u8>>>,
    /// Displacement in litres.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub displacement_l: Option<f64>,
    /// Where the fuel is injected.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub injection: Option<Injection>,
    /// How the engine measures its air.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub air_metering: Option<AirMetering>,
    /// Winding resistance of an injector at 20 °C, lowest and highest good value, ohms.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub coil_ohms: Option<[f64; 2]>,
    /// Rail pressure, lowest and highest good value, kPa.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rail_kpa: Option<[f64; 2]>,
    /// Fuel as sold to this car (`petrol`, `E10`, …).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fuel: Option<String>,
    /// Prices of treatments in the owner's money, all in, by action; `labour_per_hour` is the rate for those without one.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub prices: BTreeMap<String, f64>,
}

/// Where the fuel is injected.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Injection {
    /// Into the intake ports.
    Port,
    /// Into the cylinders.
    Direct,
}

/// How the engine measures the air it takes in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum AirMetering {
    /// By a MAF sensor.
    Maf,
    /// By a MAP sensor, with speed and temperature (speed density).
    Map,
}

/// A vehicle file whose entries do not fit together.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum VehicleError {
    /// Not readable as a vehicle file; the text names line and column.
    #[error("{0}")]
    Format(String),
    /// A number outside what an engine can have.
    #[error("{entry} = {found}: expected {expected}")]
    Range {
        /// The entry's name.
        entry: &'static str,
        /// What was written.
        found: String,
        /// What would be right.
        expected: &'static str,
    },
}

impl Vehicle {
    /// Reads a vehicle file's text and checks that its entries fit together.
    pub fn from_toml(text: &str) -> Result<Self, VehicleError> {
        let vehicle: Self = entries::read(text).map_err(VehicleError::Format)?;
        vehicle.checked()
    }

    /// This vehicle with missing entries taken from `other`.
    pub fn filled_up(self, other: Self) -> Self {
        let prices = if self.prices.is_empty() {
            other.prices
        } else {
            self.prices
        };
        let silent_on_cylinders = self.cylinders.is_none() && self.banks.is_none();
        Self {
            label: self.label.or(other.label),
            cylinders: if silent_on_cylinders {
                other.cylinders
            } else {
                self.cylinders
            },
            banks: if silent_on_cylinders {
                other.banks
            } else {
                self.banks
            },
            displacement_l: self.displacement_l.or(other.displacement_l),
            injection: self.injection.or(other.injection),
            air_metering: self.air_metering.or(other.air_metering),
            coil_ohms: self.coil_ohms.or(other.coil_ohms),
            rail_kpa: self.rail_kpa.or(other.rail_kpa),
            fuel: self.fuel.or(other.fuel),
            prices,
        }
    }

    /// The number of cylinders, stated or counted from the banks.
    pub fn cylinder_count(&self) -> Option<u8> {
        let from_banks = || {
            self.banks
                .as_ref()
                .map(|banks| banks.iter().map(|b| b.len() as u8).sum())
        };
        self.cylinders.or_else(from_banks)
    }

    /// The bank of a cylinder, if the banks are stated.
    pub fn bank_of(&self, cylinder: u8) -> Option<Bank> {
        let banks = self.banks.as_ref()?;
        let mut all = Bank::ALL.into_iter().zip(banks);
        all.find_map(|(bank, numbers)| numbers.contains(&cylinder).then_some(bank))
    }

    /// Returns the vehicle if its entries fit together.
    pub fn checked(self) -> Result<Self, VehicleError> {
        let range = |entry, found: String, expected| {
            Err(VehicleError::Range {
                entry,
                found,
                expected,
            })
        };
        if let Some(count) = self.cylinders
            && !(1..=16).contains(&count)
        {
            return range("cylinders", count.to_string(), "1 to 16");
        }
        if let Some(banks) = &self.banks {
            let mut all: Vec<u8> = banks.iter().flatten().copied().collect();
            all.sort_unstable();
            let expected: Vec<u8> = (1..=all.len() as u8).collect();
            let fits = self
                .cylinders
                .is_none_or(|count| usize::from(count) == all.len());
            if all != expected || !fits || !(1..=4).contains(&banks.len()) || all.len() > 16 {
                return range(
                    "banks",
                    format!("{banks:?}"),
                    "every cylinder once, in 1 to 4 banks",
                );
            }
        }
        if let Some(litres) = self.displacement_l
            && !(0.2..=10.0).contains(&litres)
        {
            return range("displacement_l", format!("{litres:?}"), "0.2 to 10 litres");
        }
        for (entry, given, most, expected) in [
            (
                "coil_ohms",
                self.coil_ohms,
                MOST_OHMS,
                "[lowest, highest], above 0 and up to 1000000 ohms",
            ),
            (
                "rail_kpa",
                self.rail_kpa,
                MOST_RAIL_KPA,
                "[lowest, highest], above 0 and up to 100000 kPa",
            ),
        ] {
            if let Some([low, high]) = given
                && !(low > 0.0 && low <= high && high <= most)
            {
                return range(entry, format!("[{low:?}, {high:?}]"), expected);
            }
        }
        let odd = |price: &f64| !(0.0..=MOST_MONEY).contains(price);
        if let Some(price) = self.prices.values().copied().find(odd) {
            return range("price", format!("{price:?}"), "0 to 1000000000");
        }
        Ok(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Vehicle file of a car with two banks.
    const WAGON: &str = "label = \"wagon 2\"\ncylinders = 6\nbanks = [[1, 2, 3], [4, 5, 6]]\nair_metering = \"maf\"\n";

    #[test]
    fn a_vehicle_file_is_read_and_knows_its_banks() {
        let vehicle = Vehicle::from_toml(WAGON).unwrap();
        assert_eq!(vehicle.cylinder_count(), Some(6));
        assert_eq!(vehicle.bank_of(5), Some(Bank::Two));
        assert_eq!(vehicle.air_metering, Some(AirMetering::Maf));
    }

    #[test]
    fn what_is_missing_is_taken_from_elsewhere_but_cylinders_and_banks_only_together() {
        let wagon = Vehicle::from_toml(WAGON).unwrap();
        let named = Vehicle::from_toml("label = \"the red one\"").unwrap();
        let filled = named.filled_up(wagon.clone());
        assert_eq!(filled.label.as_deref(), Some("the red one"));
        assert_eq!(filled.banks, wagon.banks);
        let four = Vehicle::from_toml("cylinders = 4").unwrap();
        assert_eq!(four.filled_up(wagon).banks, None);
    }

    #[test]
    fn entries_that_do_not_fit_together_are_named() {
        let twice = Vehicle::from_toml("banks = [[1, 2], [2, 3]]").unwrap_err();
        assert!(twice.to_string().starts_with("banks ="), "{twice}");
        let unknown = Vehicle::from_toml("cylinder = 4").unwrap_err();
        assert!(unknown.to_string().contains("line 1"), "{unknown}");
        assert!(Vehicle::from_toml("coil_ohms = [17.0, 12.0]").is_err());
        for huge in [
            "coil_ohms = [12.0, 1e308]",
            "rail_kpa = [1.0, inf]",
            "prices.replace = 1e308",
        ] {
            let refused = Vehicle::from_toml(huge).unwrap_err().to_string();
            assert!(
                refused.contains("expected") && refused.len() < 100,
                "{refused}"
            );
        }
    }
}
