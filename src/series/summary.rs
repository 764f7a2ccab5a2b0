//! What one capture amounts to: everything the judgement may look at, each number with its doubt.
//!
//! Plain values only; how they are computed stands in the other files of this room. A missing reading is `None`, never 0.

use serde::{Deserialize, Serialize};

use crate::{identity::CarIdentity, statistics::correlation::t_quantile};

use crate::series::{
    gather::cell::Cell,
    gather::misfire_frame::MisfireFrame,
    label::Label,
    label::region::{ByRegion, Region},
};

/// Everything that one capture says, ready to be judged.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Summary {
    /// Seconds by label.
    pub seconds: Seconds,
    /// Total correction by bank and region; only what was visited.
    pub trims: Vec<TrimSummary>,
    /// The same from moments in which long trim was still settling after codes were cleared: kept aside, in none of
    /// the other means.
    pub relearning: Vec<TrimSummary>,
    /// Total correction by bank, region and cell; only what was visited.
    pub cells: Vec<CellSummary>,
    /// Correction of bank 1 minus another bank's by region, from the same moments: fuel, weather and air meter cancel.
    pub bank_differences: Vec<BankDifference>,
    /// How the engine was run in each region visited.
    pub operation: Vec<Operation>,
    /// The correction with purge commanded open and shut, where both were seen.
    #[serde(default)]
    pub purge: Vec<PurgeContrast>,
    /// How the correction went in the course of the trip.
    #[serde(default)]
    pub drift: Vec<Drift>,
    /// Fuel filled in while the recording ran.
    #[serde(default)]
    pub filling: Option<Filling>,
    /// The fuel rail's pressure by region, where the car tells it.
    #[serde(default)]
    pub rail: Vec<RailPressure>,
    /// Misfire counters of service 06, when the car has them.
    pub misfires: Option<MisfireSummary>,
    /// Trouble codes met in the capture.
    pub codes: Vec<CodeSeen>,
    /// What was noted down when the first misfire code was stored.
    #[serde(default)]
    pub misfire_frame: Option<MisfireFrame>,
    /// Readings that cannot be true beside their neighbours, and are left out.
    #[serde(default)]
    pub dropped: Vec<Dropped>,
    /// Single facts about car and trip.
    pub facts: Facts,
    /// What the person should know about these data, in plain sentences.
    pub warnings: Vec<String>,
}

/// What a mean may be off by, as a logarithm, that was taken while long trim was still settling: short trim makes up for what
/// long trim has not learned, but for the seconds after a change of operation (assumed).
const SETTLING_ERROR: f64 = 0.015;

impl Summary {
    /// What is best known of each correction: where long trim was settling nearly all the time, what was read then, with more
    /// doubt.
    pub fn corrections(&self) -> Vec<TrimSummary> {
        let place = |trim: &TrimSummary| (trim.bank, trim.region);
        let mut known = self.trims.clone();
        for settling in &self.relearning {
            let settling = TrimSummary {
                std_error_log: settling.std_error_log.hypot(SETTLING_ERROR),
                ..*settling
            };
            match known
                .iter_mut()
                .find(|other| place(other) == place(&settling))
            {
                Some(other) if settling.std_error_log < other.std_error_log => *other = settling,
                Some(_) => {}
                None => known.push(settling),
            }
        }
        known
    }

    /// How many readings are left out because they cannot be true.
    pub fn left_out(&self) -> u64 {
        self.dropped.iter().map(|dropped| dropped.readings).sum()
    }
}

/// Readings of one quantity that are left out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Dropped {
    /// The quantity, in words.
    pub quantity: String,
    /// How many.
    pub readings: u64,
}

/// Seconds of the capture by label, in seconds. `total` is their sum.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct Seconds {
    /// All moments.
    pub total: f64,
    /// Moments that count.
    pub used: f64,
    /// Engine not warm.
    pub cold: f64,
    /// Not in closed loop.
    pub open_loop: f64,
    /// Overrun without fuel.
    pub fuel_cut: f64,
    /// Speed or load moving fast.
    pub transient: f64,
    /// A needed reading too old.
    pub stale: f64,
    /// A sensor outside physics, stuck, or jumping.
    pub implausible: f64,
    /// Engine not turning.
    pub engine_off: f64,
    /// Long term trim settling after codes were cleared.
    pub relearn: f64,
}

impl Seconds {
    /// Adds seconds of one label.
    pub fn add(&mut self, label: Label, seconds: f64) {
        self.total += seconds;
        *self.of_mut(label) += seconds;
    }

    /// Seconds of one label.
    pub fn of(mut self, label: Label) -> f64 {
        *self.of_mut(label)
    }

    fn of_mut(&mut self, label: Label) -> &mut f64 {
        match label {
            Label::EngineOff => &mut self.engine_off,
            Label::Stale => &mut self.stale,
            Label::Implausible => &mut self.implausible,
            Label::Cold => &mut self.cold,
            Label::OpenLoop => &mut self.open_loop,
            Label::FuelCut => &mut self.fuel_cut,
            Label::Transient => &mut self.transient,
            Label::Relearn => &mut self.relearn,
            Label::Used => &mut self.used,
        }
    }
}

/// Mean total correction of one bank in one region. Corrections are natural logarithms, y = ln C.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct TrimSummary {
    /// Bank, from 1.
    pub bank: u8,
    /// Region.
    pub region: Region,
    /// Mean of y.
    pub mean_log: f64,
    /// Standard error of that mean inside this trip (neighbouring readings are not independent).
    pub std_error_log: f64,
    /// Seconds that counted.
    pub seconds: f64,
    /// Readings of the short trim that counted; a repeated value is not a reading.
    pub readings: u32,
    /// Degrees of freedom of the standard error: small when there was little to measure it by.
    pub freedom: f64,
    /// Independent readings that these are worth.
    pub effective_readings: f64,
    /// Share of the seconds in which short trim stood at its stop, 0 to 1: the mean is then only a lower bound of its
    /// size.
    pub at_stop: f64,
    /// Mean of y over seconds in which no misfire counter moved, with its standard error, where both kinds were seen.
    /// The error leaves out the slow wandering of the trip, which this mean shares with `mean_log`.
    pub without_misfire: Option<(f64, f64)>,
}

impl TrimSummary {
    /// Interval of the mean of y at `level` (0.95 for 95 %) inside this trip, by Student's t.
    pub fn interval_log(&self, level: f64) -> (f64, f64) {
        let half = t_quantile(self.freedom, level).unwrap_or(f64::INFINITY) * self.std_error_log;
        (self.mean_log - half, self.mean_log + half)
    }
}

/// Mean total correction of one bank in one cell, as far as it lies in one region.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CellSummary {
    /// Bank, from 1.
    pub bank: u8,
    /// Region; `None` outside every region.
    pub region: Option<Region>,
    /// Cell.
    pub cell: Cell,
    /// Mean of y = ln C.
    pub mean_log: f64,
    /// Standard error inside this trip.
    pub std_error_log: f64,
    /// Seconds that counted.
    pub seconds: f64,
}

/// Bank 1 minus another bank, from moments in which both were known.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct BankDifference {
    /// The other bank, from 2.
    pub other: u8,
    /// Region.
    pub region: Region,
    /// Mean of y₁ − y_other.
    pub mean_log: f64,
    /// Standard error inside this trip.
    pub std_error_log: f64,
    /// Seconds that counted.
    pub seconds: f64,
}

/// How the engine was run in a region: means over the seconds that counted.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Operation {
    /// Region.
    pub region: Region,
    /// Seconds that counted, whatever bank.
    pub seconds: f64,
    /// Engine speed, rpm.
    pub engine_rpm: f64,
    /// Calculated load, percent.
    pub load_pct: Option<f64>,
    /// Absolute load, percent: the metered air of a cycle against the displacement full of air.
    #[serde(default)]
    pub absolute_load_pct: Option<f64>,
    /// Manifold absolute pressure, kPa.
    pub manifold_kpa: Option<f64>,
    /// Measured air flow, g/s.
    pub air_g_per_s: Option<f64>,
    /// Commanded purge, percent.
    pub purge_pct: Option<f64>,
    /// Spark advance, degrees.
    pub spark_deg: Option<f64>,
}

/// The correction with purge commanded open and shut in one region.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PurgeContrast {
    /// Region.
    pub region: Region,
    /// Mean of y while open less that while shut, over all banks.
    pub open_less_shut_log: f64,
    /// Standard error of that difference.
    pub std_error_log: f64,
    /// Seconds while open.
    pub open_seconds: f64,
    /// Seconds while shut.
    pub shut_seconds: f64,
}

/// How the correction of a region went in the course of the trip, over all banks.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Drift {
    /// Region.
    pub region: Region,
    /// Stretches of it in the order of time.
    pub stretches: Vec<Stretch>,
}

/// A stretch of one region; others may lie between its seconds.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Stretch {
    /// Mean of its seconds since the recording began.
    pub second: f64,
    /// Mean of y over them.
    pub mean_log: f64,
    /// Standard error of that, without the slow wandering of the trip.
    pub std_error_log: f64,
    /// How many seconds.
    pub seconds: f64,
}

/// Fuel that was filled in while the recording ran.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Filling {
    /// Level before, percent.
    pub from_pct: f64,
    /// Level after, percent.
    pub to_pct: f64,
    /// How far corrections moved, where they were seen on both sides.
    pub moved: Vec<Moved>,
}

/// How far the correction of one bank in one region moved.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Moved {
    /// Bank, from 1.
    pub bank: u8,
    /// Region.
    pub region: Region,
    /// Mean of y after less before.
    pub by_log: f64,
    /// Standard error of that difference.
    pub std_error_log: f64,
    /// Share of the seconds that lie after, 0 to 1.
    pub after_share: f64,
}

/// The parameters that tell a fuel rail's pressure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RailSensor {
    /// Fuel pressure, gauge, up to 765 kPa (PID 0A).
    Low,
    /// Rail pressure relative to the manifold's (PID 22).
    ToManifold,
    /// Rail pressure, gauge (PID 23).
    Gauge,
    /// Rail pressure, absolute (PID 59).
    Absolute,
    /// Rail pressure beside the commanded one (PID 6D).
    Controlled,
}

/// The fuel rail's pressure in a region: means over the seconds that counted and told it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct RailPressure {
    /// What told it.
    pub sensor: RailSensor,
    /// Region.
    pub region: Region,
    /// Seconds.
    pub seconds: f64,
    /// Pressure as the parameter tells it, kPa.
    pub kpa: f64,
    /// What the controller commanded, kPa.
    pub commanded_kpa: Option<f64>,
}

/// What the misfire counters said.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct MisfireSummary {
    /// Engine revolutions during which the counters were watched: an upper bound of the exposure.
    pub revolutions: f64,
    /// Revolutions watched in each region; those outside every region are in none of them.
    pub revolutions_by_region: ByRegion<f64>,
    /// One entry a counter that reported, by cylinder.
    pub cylinders: Vec<CylinderMisfires>,
    /// How often a counter began anew while watched: most of any cylinder.
    #[serde(default)]
    pub resets: u32,
}

/// The misfires of one cylinder.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CylinderMisfires {
    /// Cylinder, from 1.
    pub cylinder: u8,
    /// Misfires counted while watched.
    pub count: f64,
    /// Misfires counted in each region; those outside every region are in none of them.
    pub count_by_region: ByRegion<f64>,
    /// Highest average of the last ten driving cycles that the car reported (TID 0B).
    pub average_of_ten: Option<f64>,
    /// Largest counter value met (TID 0C), which includes misfires from before the recording.
    pub counter_high: f64,
    /// Variance over mean of the counts within a region, at least 1: misfires come in bursts.
    pub dispersion: f64,
}

/// A trouble code and where it stood.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CodeSeen {
    /// The code, as in `P0301`.
    pub code: String,
    /// In which list.
    pub list: CodeList,
}

/// The lists in which a controller keeps codes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum CodeList {
    /// Confirmed (service 03).
    Stored,
    /// This or the last driving cycle (service 07).
    Pending,
    /// Permanent (service 0A).
    Permanent,
}

/// Single facts about car and trip; `None` where the capture does not say.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Facts {
    /// Banks for which trims were seen.
    pub banks: u8,
    /// An air flow reading was seen (PID 10, not all zero).
    pub air_flow_seen: bool,
    /// A manifold pressure reading was seen.
    pub manifold_pressure_seen: bool,
    /// A list of stored or pending codes was asked for and answered, if only to say that it is empty.
    #[serde(default)]
    pub codes_asked: bool,
    /// Closed-loop status was reported (PID 03).
    pub loop_status_seen: bool,
    /// Fuel type code (PID 51).
    pub fuel_type: Option<u8>,
    /// Ethanol in the fuel, percent (PID 52).
    pub ethanol_pct: Option<f64>,
    /// Fuel level at start and end, percent (PID 2F).
    pub fuel_level_pct: Option<(f64, f64)>,
    /// Barometric pressure, kPa.
    pub barometer_kpa: Option<f64>,
    /// Ambient or intake air temperature, mean, °C.
    pub intake_air_c: Option<f64>,
    /// Highest calculated load that was held while the engine was asked for all it has, percent (PID 04).
    #[serde(default)]
    pub full_load_pct: Option<f64>,
    /// Minutes since codes were cleared, at the start.
    pub minutes_since_clear: Option<f64>,
    /// Warm-ups since codes were cleared, at the start.
    pub warm_ups_since_clear: Option<f64>,
    /// Kilometres since codes were cleared, at the start.
    #[serde(default)]
    pub km_since_clear: Option<f64>,
    /// Long term trim stood at exactly 0 for the first minute of running, on every bank, and moved away later: it had
    /// been cleared, whatever the car says.
    #[serde(default)]
    pub long_trim_from_zero: bool,
    /// When the recording began.
    #[serde(default)]
    pub started: Option<jiff::Timestamp>,
    /// Which car it is.
    #[serde(default)]
    pub car: CarIdentity,
    /// Why the trims must not be judged at all; `trims`, `cells` and `bank_differences` are empty then.
    pub not_judged: Option<NotJudged>,
    /// Banks whose trims repeat bank 1's to the bit: no measurement, left out everywhere.
    pub copied_banks: Vec<u8>,
}

/// Why trims must not be judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum NotJudged {
    /// The car says that it runs on diesel (PID 51).
    Diesel,
    /// The trims of all banks and terms are alike to the bit.
    TrimsAlike,
}
