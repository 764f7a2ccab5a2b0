//! What a piece of evidence shows, as plain values; the report puts it into words.

use pintle_protocol::dtc::TroubleCode;

use crate::{bench::Findings, series::label::region::Region};

/// What was read.
#[derive(Debug, Clone, PartialEq)]
pub enum Fact {
    /// Fuel trim of bank 1 against another bank's.
    BankDifference {
        /// The other bank, from 1.
        other: u8,
        /// How much more bank 1 needs, percent.
        pct: f64,
        /// Region in which the banks differ most.
        region: Region,
    },
    /// Total fuel trim of the bank that is furthest from zero, percent by region.
    TrimByRegion {
        /// Bank, from 1.
        bank: u8,
        /// Mean by region, percent: at least two regions, in the order of the air flow.
        means_pct: Vec<(Region, f64)>,
    },
    /// Mean total fuel trim, percent.
    MeanTrim(f64),
    /// Misfire counts.
    Misfires {
        /// The cylinder with most of them.
        cylinder: u8,
        /// Misfires counted on this cylinder.
        count: f64,
        /// Misfires counted on all other cylinders.
        others: f64,
        /// Revolutions during which the counters were read.
        revolutions: f64,
    },
    /// Total fuel trim of all seconds less that of seconds without misfires, points.
    TrimWithoutMisfires(f64),
    /// Trouble codes, each once; empty where none was found.
    Codes(Vec<TroubleCode>),
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
        /// Pressure and commanded pressure by region, kPa; the latter `None` where none is reported.
        pressures: Vec<(Region, f64, Option<f64>)>,
        /// What it is compared with.
        against: Against,
        /// The normal range, kPa; `None` where none is stated.
        range_kpa: Option<[f64; 2]>,
    },
    /// How far fuel trims moved when the car was refuelled.
    Refuelling {
        /// Mean movement, as a logarithm.
        moved_log: f64,
        /// Standard deviation of the single movements, as a logarithm.
        apart_log: f64,
        /// What the tank did.
        tank: Tank,
    },
    /// Total fuel trim with purge commanded open less that with purge commanded shut, as a logarithm.
    Purge {
        /// The difference.
        difference_log: f64,
        /// Standard error of the difference, as a logarithm.
        std_error_log: f64,
    },
    /// How far the total fuel trim rises during a trip, as a logarithm.
    Drift {
        /// Rise from the first to the last part of a trip, as a logarithm.
        rise_log: f64,
        /// Standard error of the rise, as a logarithm.
        std_error_log: f64,
    },
    /// Bench readings taken by hand.
    Bench(BenchFact, Box<Findings>),
    /// Outcome of a check, in the words of the table of checks.
    CheckOutcome(String),
}

/// A kind of bench readings taken by hand.
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

/// What a pressure is compared with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Against {
    /// The pressure that the controller commanded.
    Command,
    /// The range of the vehicle file, kPa.
    Range,
    /// The usual pressure of such rails.
    Usual,
    /// The rail's own pressure in other regions.
    Course,
}

/// What happened to the fuel tank.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Tank {
    /// The car was refuelled: level before and after, percent, as the gauge reports it.
    Refuelled(f64, f64),
    /// The car was not refuelled.
    NotRefuelled,
    /// No fuel level is reported.
    Unknown,
}
