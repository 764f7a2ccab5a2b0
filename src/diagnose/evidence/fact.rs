//! What a piece of evidence says, as plain values; the words are the report's.

use crate::{bench::Findings, series::label::region::Region};

use super::{filling::Tank, rail::Against};

/// What was read.
#[derive(Debug, Clone, PartialEq)]
pub enum Fact {
    /// Fuel of bank 1 against another bank's.
    BankDifference {
        /// The other bank, from 1.
        other: u8,
        /// How much more bank 1 needs, percent.
        pct: f64,
        /// Where they differ most.
        region: Region,
    },
    /// Total fuel trim of the bank that is furthest from zero, percent by region.
    TrimByRegion {
        /// Bank, from 1.
        bank: u8,
        /// At least two regions, in the order of the air flow.
        means_pct: Vec<(Region, f64)>,
    },
    /// Mean total fuel trim, percent.
    MeanTrim(f64),
    /// Misfire counts.
    Misfires {
        /// The cylinder with most of them.
        cylinder: u8,
        /// Its misfires.
        count: f64,
        /// Those of all others.
        others: f64,
        /// Revolutions during which counters were watched.
        revolutions: f64,
    },
    /// Total fuel trim of all seconds less that of seconds without misfires, points.
    TrimWithoutMisfires(f64),
    /// Trouble codes, each once; none was met where it is empty.
    Codes(Vec<String>),
    /// Ethanol in the fuel, as the car reports it, percent.
    Ethanol(f64),
    /// Air that the engine takes.
    Air {
        /// What the MAF sensor reads above what such an engine breathes, percent.
        surplus_pct: Option<f64>,
        /// The highest load reported at full throttle, percent.
        full_load_pct: Option<f64>,
    },
    /// Rail pressure.
    Rail {
        /// Pressure, kPa, and the commanded one, by region.
        pressures: Vec<(Region, f64, Option<f64>)>,
        /// What it is compared with.
        against: Against,
        /// The normal range, kPa.
        range_kpa: Option<[f64; 2]>,
    },
    /// How far fuel trims moved when the car was refuelled.
    Refuelling {
        /// Mean movement, as a logarithm.
        moved_log: f64,
        /// How far single movements lie apart, as a logarithm.
        apart_log: f64,
        /// What the tank did.
        tank: Tank,
    },
    /// Total fuel trim with purge commanded open less that with purge commanded shut, as a logarithm.
    Purge {
        /// The difference.
        difference_log: f64,
        /// Its standard error.
        std_error_log: f64,
    },
    /// How far the total fuel trim rises during a trip, as a logarithm.
    Drift {
        /// The rise.
        rise_log: f64,
        /// Its standard error.
        std_error_log: f64,
    },
    /// Readings taken by hand.
    Bench(BenchFact, Box<Findings>),
    /// How a check came out, in the words of its table.
    CheckOutcome(String),
}

/// A kind of readings taken by hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BenchFact {
    /// Winding resistance, click and drive pulse.
    Windings,
    /// Flow or pressure drops.
    Flow,
    /// Leakage and leak-down.
    Leakage,
    /// Rail pressure.
    Pressure,
    /// Power balance.
    Power,
}
