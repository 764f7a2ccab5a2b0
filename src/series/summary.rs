//! Summary of one capture: everything that the judgement uses, each number with its standard error.
//!
//! Plain values only; the other files of this directory compute them. A missing reading is `None`, never 0.

use pintle_protocol::dtc::TroubleCode;
use serde::{Deserialize, Serialize};

use crate::{identity::CarIdentity, statistics::correlation::t_quantile};

use crate::series::{
    gather::{cell::Cell, misfire_frame::MisfireFrame},
    label::{
        Label,
        region::{ByRegion, Region},
    },
    warning::{NotJudged, Warning},
};

/// Everything that one capture holds, ready to be judged.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Summary {
    /// Seconds by label.
    pub seconds: Seconds,
    /// Total fuel trim by bank and region; only regions that were recorded.
    pub trims: Vec<TrimSummary>,
    /// Total fuel trim by bank and region from moments in which long term trim was still settling after codes were
    /// cleared: kept aside, in none of the other means.
    pub relearning: Vec<TrimSummary>,
    /// Total fuel trim by bank, region and cell; only cells that were recorded.
    pub cells: Vec<CellSummary>,
    /// Fuel trim of bank 1 minus another bank's by region, from the same moments: fuel, weather and MAF sensor cancel.
    pub bank_differences: Vec<BankDifference>,
    /// How the engine was run in each region that was recorded.
    pub operation: Vec<Operation>,
    /// Fuel trim with purge commanded open and shut, where both were recorded.
    #[serde(default)]
    pub purge: Vec<PurgeContrast>,
    /// How the fuel trim moved during the trip.
    #[serde(default)]
    pub drift: Vec<Drift>,
    /// Refuelling during the recording; `None` without one.
    #[serde(default)]
    pub refuelling: Option<Refuelling>,
    /// Rail pressure by region, where the car reports it.
    #[serde(default)]
    pub rail: Vec<RailPressure>,
    /// Misfire counters of service 06; `None` where the car has none.
    pub misfires: Option<MisfireSummary>,
    /// Trouble codes found in the capture.
    pub codes: Vec<CodeSeen>,
    /// Freeze frame of the first misfire code; `None` without one.
    #[serde(default)]
    pub misfire_frame: Option<MisfireFrame>,
    /// Readings that are left out because they cannot be true next to their neighbours.
    #[serde(default)]
    pub dropped: Vec<Dropped>,
    /// Single facts about car and trip.
    pub facts: Facts,
    /// What the person should know about these data.
    pub warnings: Vec<Warning>,
}

/// Standard error added to a mean taken while long term trim was still settling, as a logarithm: short term trim
/// compensates for what long term trim has not learned, except in the seconds after a change of operation (assumed).
const SETTLING_ERROR: f64 = 0.015;

impl Summary {
    /// The best known mean of each fuel trim: where long term trim was settling nearly all the time, the mean of those
    /// seconds, with a larger standard error.
    pub fn fuel_trims(&self) -> Vec<TrimSummary> {
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

    /// Number of readings left out because they cannot be true.
    pub fn left_out(&self) -> u64 {
        self.dropped.iter().map(|dropped| dropped.readings).sum()
    }
}

/// Readings of one quantity that are left out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Dropped {
    /// The quantity, in words.
    pub quantity: String,
    /// Number of readings.
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
    /// Seconds in which speed or load changes fast.
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

/// Mean total fuel trim of one bank in one region, as natural logarithm y = ln C.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct TrimSummary {
    /// Bank, from 1.
    pub bank: u8,
    /// Region.
    pub region: Region,
    /// Mean of y = ln C.
    pub mean_log: f64,
    /// Standard error of the mean within this trip (neighbouring readings are not independent).
    pub std_error_log: f64,
    /// Seconds that counted.
    pub seconds: f64,
    /// Readings of the short term trim that counted; a repeated value is not a reading.
    pub readings: u32,
    /// Degrees of freedom of the standard error: few where there was little to measure it by.
    pub degrees_of_freedom: f64,
    /// Number of independent readings with the same standard error.
    pub effective_readings: f64,
    /// Share of the seconds in which the short term trim was at its limit, 0 to 1: the mean is then only a lower bound
    /// of its size.
    pub saturated: f64,
    /// Mean of y over seconds in which no misfire counter moved, and its standard error; `None` unless both kinds of
    /// seconds were recorded. The error leaves out the slow variation of the trip, which this mean shares with
    /// `mean_log`.
    pub without_misfire: Option<(f64, f64)>,
}

impl TrimSummary {
    /// Interval of the mean of y at `level` (0.95 for 95 %) within this trip, by Student's t.
    pub fn interval_log(&self, level: f64) -> (f64, f64) {
        let half = t_quantile(self.degrees_of_freedom, level).unwrap_or(f64::INFINITY)
            * self.std_error_log;
        (self.mean_log - half, self.mean_log + half)
    }
}

/// Mean total fuel trim of one bank in one cell within one region.
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
    /// Standard error of the mean within this trip.
    pub std_error_log: f64,
    /// Seconds that counted.
    pub seconds: f64,
}

/// Fuel trim of bank 1 minus another bank's, from moments in which both were known.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct BankDifference {
    /// The other bank, from 2.
    pub other: u8,
    /// Region.
    pub region: Region,
    /// Mean of y of bank 1 minus y of the other bank.
    pub mean_log: f64,
    /// Standard error of the mean within this trip.
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
    /// Absolute load, percent: metered air per cycle over the air that fills the displacement.
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

/// Fuel trim with purge commanded open and shut in one region.
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

/// How the fuel trim of a region moved during the trip, over all banks.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Drift {
    /// Region.
    pub region: Region,
    /// Stretches of the region in order of time.
    pub stretches: Vec<Stretch>,
}

/// A stretch of one region; seconds of other regions may lie between its own.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Stretch {
    /// Mean time of its seconds since the recording began, s.
    pub second: f64,
    /// Mean of y = ln C over the stretch.
    pub mean_log: f64,
    /// Standard error of the mean, without the slow variation of the trip.
    pub std_error_log: f64,
    /// Number of seconds in the stretch.
    pub seconds: f64,
}

/// A refuelling during the recording.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Refuelling {
    /// Fuel level before, percent.
    pub from_pct: f64,
    /// Fuel level after, percent.
    pub to_pct: f64,
    /// How far fuel trims moved, where they were recorded on both sides.
    pub moved: Vec<Moved>,
}

/// How far the fuel trim of one bank in one region moved.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Moved {
    /// Bank, from 1.
    pub bank: u8,
    /// Region.
    pub region: Region,
    /// Mean of y after the refuelling less that before.
    pub by_log: f64,
    /// Standard error of that difference.
    pub std_error_log: f64,
    /// Share of the seconds that lie after the refuelling, 0 to 1.
    pub after_share: f64,
}

/// The parameters that report a rail pressure.
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
    /// Rail pressure reported together with its command (PID 6D).
    Controlled,
}

/// Rail pressure in a region: means over the seconds that count and report it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct RailPressure {
    /// The parameter that reported the pressure.
    pub sensor: RailSensor,
    /// Region.
    pub region: Region,
    /// Seconds that entered the mean.
    pub seconds: f64,
    /// Mean pressure as the parameter reports it, kPa.
    pub kpa: f64,
    /// Mean commanded pressure, kPa; `None` where none is reported.
    pub commanded_kpa: Option<f64>,
}

/// Summary of the misfire counters.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct MisfireSummary {
    /// Engine revolutions during which the counters were read: an upper bound of the exposure.
    pub revolutions: f64,
    /// Engine revolutions during which the counters were read, by region in the order of [`Region::ALL`]; revolutions
    /// outside every region are in none of them.
    pub revolutions_by_region: ByRegion<f64>,
    /// One entry for each counter that reported, by cylinder.
    pub cylinders: Vec<CylinderMisfires>,
    /// Number of resets of a counter while it was read: the most of any cylinder.
    #[serde(default)]
    pub resets: u32,
}

/// The misfires of one cylinder.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CylinderMisfires {
    /// Cylinder, from 1.
    pub cylinder: u8,
    /// Misfires counted during the recording.
    pub count: f64,
    /// Misfires counted during the recording, by region in the order of [`Region::ALL`].
    pub count_by_region: ByRegion<f64>,
    /// Highest average of the last ten driving cycles that the car reported (TID 0B).
    pub average_of_ten: Option<f64>,
    /// Largest counter value met (TID 0C), which includes misfires from before the recording.
    pub counter_high: f64,
    /// Variance over mean of the counts within a region, at least 1: misfires come in bursts.
    pub dispersion: f64,
}

/// A trouble code and the list that holds it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CodeSeen {
    /// The code.
    #[serde(with = "code_as_text")]
    pub code: TroubleCode,
    /// The list that holds the code.
    pub list: CodeList,
}

/// A code as the text that people read, as in `P0301`.
mod code_as_text {
    use pintle_protocol::dtc::TroubleCode;
    use serde::{Deserialize, Deserializer, Serializer, de::Error};

    pub fn serialize<S: Serializer>(code: &TroubleCode, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(code)
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<TroubleCode, D::Error> {
        let text = String::deserialize(from)?;
        text.parse().map_err(D::Error::custom)
    }
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
    /// Number of banks with fuel trims.
    pub banks: u8,
    /// Whether an air flow reading was seen (PID 10, not all zero).
    pub air_flow_seen: bool,
    /// Whether a manifold pressure reading was seen.
    pub manifold_pressure_seen: bool,
    /// Whether a list of stored or pending codes was requested and answered, if only as empty.
    #[serde(default)]
    pub codes_asked: bool,
    /// Whether closed-loop status was reported (PID 03).
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
    /// Highest calculated load held at full throttle, percent (PID 04).
    #[serde(default)]
    pub full_load_pct: Option<f64>,
    /// Minutes since codes were cleared, at the start.
    pub minutes_since_clear: Option<f64>,
    /// Warm-ups since codes were cleared, at the start.
    pub warm_ups_since_clear: Option<f64>,
    /// Kilometres since codes were cleared, at the start.
    #[serde(default)]
    pub km_since_clear: Option<f64>,
    /// Whether long term trim was at exactly 0 for the first minute of running, on every bank, and moved away later: it
    /// had been cleared, whatever the car reports.
    #[serde(default)]
    pub long_trim_from_zero: bool,
    /// When the recording began.
    #[serde(default)]
    pub started: Option<jiff::Timestamp>,
    /// The car's identity.
    #[serde(default)]
    pub car: CarIdentity,
    /// Why the trims must not be judged; `trims`, `cells` and `bank_differences` are empty then.
    pub not_judged: Option<NotJudged>,
    /// Banks whose trims repeat bank 1's to the bit: no measurement, left out everywhere.
    pub copied_banks: Vec<u8>,
}
