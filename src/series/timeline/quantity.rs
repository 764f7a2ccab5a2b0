//! The quantities that the series use, each with a dense number, so that a reading finds its place without search.

use crate::bank::Bank;
use pintle_protocol::{Item, Pid};

/// A quantity of the engine that the judgement needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Quantity {
    /// Engine speed, rpm.
    EngineSpeed,
    /// Vehicle speed, km/h.
    VehicleSpeed,
    /// Calculated load, percent.
    Load,
    /// Absolute load, percent.
    AbsoluteLoad,
    /// Coolant, °C.
    Coolant,
    /// Manifold pressure, kPa absolute.
    ManifoldPressure,
    /// Air flow, g/s.
    AirFlow,
    /// Throttle position, percent.
    Throttle,
    /// Spark advance, degrees.
    Spark,
    /// Commanded purge, percent.
    Purge,
    /// Intake air, °C.
    IntakeAir,
    /// Time since engine start, s.
    RunTime,
    /// Fuel system 1 status, raw code.
    LoopStatus1,
    /// Fuel system 2 status, raw code.
    LoopStatus2,
    /// Commanded equivalence ratio.
    CommandedRatio,
    /// Fuel level, percent.
    FuelLevel,
    /// Barometer, kPa.
    Barometer,
    /// Warm-ups since codes were cleared.
    WarmUpsSinceClear,
    /// Kilometres since codes were cleared.
    DistanceSinceClear,
    /// Minutes since codes were cleared.
    TimeSinceClear,
    /// Fuel type, raw code.
    FuelType,
    /// Ethanol, percent.
    Ethanol,
    /// Fuel pressure, kPa gauge.
    FuelPressure,
    /// Rail pressure relative to the manifold's, kPa.
    RailToManifold,
    /// Rail pressure, kPa gauge.
    RailGauge,
    /// Rail pressure, kPa absolute.
    RailAbsolute,
    /// Rail pressure that the controller commands, kPa.
    RailCommanded,
    /// Actual rail pressure of the parameter that also reports the command, kPa.
    RailActual,
    /// Short term trim, bank 1, percent; banks 2 to 4 follow.
    ShortTrim1,
    /// Short term trim, bank 2.
    ShortTrim2,
    /// Short term trim, bank 3.
    ShortTrim3,
    /// Short term trim, bank 4.
    ShortTrim4,
    /// Long term trim, bank 1, percent; banks 2 to 4 follow.
    LongTrim1,
    /// Long term trim, bank 2.
    LongTrim2,
    /// Long term trim, bank 3.
    LongTrim3,
    /// Long term trim, bank 4.
    LongTrim4,
}

use Quantity as Q;

/// Parameter and number of the value in it for each quantity.
const TABLE: [(Pid, u8, Quantity); Q::COUNT] = [
    (Pid::ENGINE_SPEED, 0, Q::EngineSpeed),
    (Pid::VEHICLE_SPEED, 0, Q::VehicleSpeed),
    (Pid::LOAD, 0, Q::Load),
    (Pid::ABSOLUTE_LOAD, 0, Q::AbsoluteLoad),
    (Pid::COOLANT, 0, Q::Coolant),
    (Pid::MANIFOLD_PRESSURE, 0, Q::ManifoldPressure),
    (Pid::AIR_FLOW, 0, Q::AirFlow),
    (Pid::THROTTLE, 0, Q::Throttle),
    (Pid::SPARK_ADVANCE, 0, Q::Spark),
    (Pid::PURGE, 0, Q::Purge),
    (Pid::INTAKE_AIR, 0, Q::IntakeAir),
    (Pid::RUN_TIME, 0, Q::RunTime),
    (Pid::FUEL_SYSTEM, 0, Q::LoopStatus1),
    (Pid::FUEL_SYSTEM, 1, Q::LoopStatus2),
    (Pid::COMMANDED_RATIO, 0, Q::CommandedRatio),
    (Pid::FUEL_LEVEL, 0, Q::FuelLevel),
    (Pid::BAROMETER, 0, Q::Barometer),
    (Pid::WARM_UPS_SINCE_CLEAR, 0, Q::WarmUpsSinceClear),
    (Pid::DISTANCE_SINCE_CLEAR, 0, Q::DistanceSinceClear),
    (Pid::TIME_SINCE_CLEAR, 0, Q::TimeSinceClear),
    (Pid::FUEL_TYPE, 0, Q::FuelType),
    (Pid::ETHANOL, 0, Q::Ethanol),
    (Pid::FUEL_PRESSURE, 0, Q::FuelPressure),
    (Pid::RAIL_TO_MANIFOLD, 0, Q::RailToManifold),
    (Pid::RAIL_GAUGE, 0, Q::RailGauge),
    (Pid::RAIL_ABSOLUTE, 0, Q::RailAbsolute),
    (Pid::RAIL_CONTROL, 0, Q::RailCommanded),
    (Pid::RAIL_CONTROL, 1, Q::RailActual),
    (Pid::SHORT_TRIM_BANK_1, 0, Q::ShortTrim1),
    (Pid::SHORT_TRIM_BANK_2, 0, Q::ShortTrim2),
    (Pid::SHORT_TRIM_BANK_1, 1, Q::ShortTrim3),
    (Pid::SHORT_TRIM_BANK_2, 1, Q::ShortTrim4),
    (Pid::LONG_TRIM_BANK_1, 0, Q::LongTrim1),
    (Pid::LONG_TRIM_BANK_2, 0, Q::LongTrim2),
    (Pid::LONG_TRIM_BANK_1, 1, Q::LongTrim3),
    (Pid::LONG_TRIM_BANK_2, 1, Q::LongTrim4),
];

/// Entry of [`NUMBERS`] for a value that the series do not use.
const NOT_WANTED: u8 = u8::MAX;

/// Quantity number by parameter, one list for the first quantity of a parameter and one for the second.
static NUMBERS: [[u8; 256]; 2] = numbers();

#[allow(clippy::indexing_slicing)] // evaluated by the compiler: a wrong index does not build
const fn numbers() -> [[u8; 256]; 2] {
    let mut numbers = [[NOT_WANTED; 256]; 2];
    let mut row = 0;
    while row < TABLE.len() {
        let (pid, part, quantity) = TABLE[row];
        numbers[part as usize][pid.0 as usize] = quantity as u8;
        row += 1;
    }
    numbers
}

impl Quantity {
    /// Short term trim of a bank.
    pub const fn short_trim(bank: Bank) -> Self {
        match bank {
            Bank::One => Self::ShortTrim1,
            Bank::Two => Self::ShortTrim2,
            Bank::Three => Self::ShortTrim3,
            Bank::Four => Self::ShortTrim4,
        }
    }

    /// Long term trim of a bank.
    pub const fn long_trim(bank: Bank) -> Self {
        match bank {
            Bank::One => Self::LongTrim1,
            Bank::Two => Self::LongTrim2,
            Bank::Three => Self::LongTrim3,
            Bank::Four => Self::LongTrim4,
        }
    }

    /// Number of quantities.
    pub const COUNT: usize = 36;

    /// Dense number of a service 01 item; `None` where the series do not use it.
    #[inline]
    pub fn number_of(item: Item) -> Option<usize> {
        let Item::Current { pid, part } = item else {
            return None;
        };
        let number = *NUMBERS.get(usize::from(part))?.get(usize::from(pid.0))?;
        (number != NOT_WANTED).then_some(usize::from(number))
    }

    /// The item with this dense number; `None` where there is none.
    pub fn item_of(number: usize) -> Option<Item> {
        let mut rows = TABLE.iter();
        let (pid, part, _) = rows.find(|(_, _, quantity)| *quantity as usize == number)?;
        Some(Item::part(*pid, *part))
    }

    /// Whether this is a code, of which no mean can be taken.
    pub const fn is_code(number: usize) -> bool {
        number == Self::LoopStatus1 as usize
            || number == Self::LoopStatus2 as usize
            || number == Self::FuelType as usize
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_quantity_has_its_own_place() {
        let mut seen = [false; Quantity::COUNT];
        for (pid, part, quantity) in TABLE {
            let number = Quantity::number_of(Item::part(pid, part)).unwrap();
            assert_eq!(number, quantity as usize);
            assert_eq!(Quantity::item_of(number), Some(Item::part(pid, part)));
            assert!(!seen[number], "{quantity:?} twice");
            seen[number] = true;
        }
        assert!(seen.iter().all(|s| *s));
    }

    #[test]
    fn other_items_are_not_wanted() {
        for item in [
            Item::current(Pid(0x00)),
            Item::part(Pid::LOAD, 1),
            Item::part(Pid::LOAD, 2),
            Item::monitor(0xA2, 0x0C),
        ] {
            assert_eq!(Quantity::number_of(item), None);
        }
    }
}
