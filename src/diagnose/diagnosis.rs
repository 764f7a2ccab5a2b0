//! The diagnosis as plain values: what is known, what it may be, what to do next. The report formats them.

use pintle_protocol::dtc::TroubleCode;
use serde::Serialize;

use crate::{
    bench::{Findings, Injector},
    cause::{Cause, SeverityQuantity},
    caution::{self, Caution},
    rounded,
    series::{
        self, gather::misfire_frame::MisfireFrame, label::region::Region, summary::Seconds,
        warning::NotJudged,
    },
    statistics::poisson::MisfirePattern,
};

use super::{circumstances::Circumstances, fact::Fact};

/// Everything that the captures of one car say about that car.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Diagnosis {
    /// Banks of the engine, as far as known.
    pub banks: usize,
    /// Seconds by label, all captures together.
    pub seconds: Seconds,
    /// Why there is no judgement; `causes` is empty then.
    pub not_judged: Option<NotJudged>,
    /// Total fuel trim by bank and region.
    pub trims: Vec<Trim>,
    /// Misfires by cylinder.
    pub misfires: Misfires,
    /// What it may be, most probable first; the probabilities sum to 1.
    pub causes: Vec<Finding>,
    /// What the bench readings say, where there are any.
    pub bench: Option<Findings>,
    /// Whether the flows measured on the bench explain the fuel trims recorded, bank by bank.
    pub flow_checks: Vec<FlowCheck>,
    /// What to check next, most bits a minute first.
    pub next_checks: Vec<NextCheck>,
    /// What decides which checks make sense on this car.
    pub circumstances: Circumstances,
    /// What can be done about the injectors, least expected cost first; empty when they are not
    /// worth treating.
    pub treatment: Vec<Treatment>,
    /// Whether to treat injectors at all; `None` where nothing was judged.
    pub injector_advice: Option<InjectorAdvice>,
    /// What follows any treatment; empty when there is none.
    pub after_treatment: Vec<AfterStep>,
    /// Trouble codes found, each once.
    pub codes: Vec<TroubleCode>,
    /// What the person should know about these data.
    pub warnings: Vec<Warning>,
    /// Cautions of the state found and of the steps advised, each once.
    pub cautions: Vec<Caution>,
}

/// Probability of all injector causes together, 0 to 1, below which the injectors are cleared and not treated (assumed;
/// the odds do not depend on it, only the advice does).
const NOT_THE_INJECTORS: f64 = 0.2;

impl Diagnosis {
    /// Whether the injectors are hardly ever the cause here; then they are not treated.
    pub fn clears_injectors(&self) -> bool {
        self.injector_probability() < NOT_THE_INJECTORS && !self.has_dead_coil()
    }

    /// Whether the bench found an injector whose winding is open or shorted, beyond doubt.
    pub fn has_dead_coil(&self) -> bool {
        let found = self.bench.iter().flat_map(|found| &found.injectors);
        found.into_iter().any(Injector::is_dead)
    }

    /// Probability that an injector is the cause, 0 to 1.
    pub fn injector_probability(&self) -> f64 {
        let injectors = self
            .causes
            .iter()
            .filter(|finding| finding.cause.is_injector());
        injectors.map(|finding| finding.probability).sum()
    }

    /// Probability of a cause, summed over all its places, 0 to 1.
    pub fn probability_of(&self, cause: Cause) -> f64 {
        let same = self.causes.iter().filter(|finding| finding.cause == cause);
        same.map(|finding| finding.probability).sum()
    }
}

/// Whether the flows of a bank's injectors explain the bank's fuel trim.
#[derive(Debug, Clone, PartialEq)]
pub struct FlowCheck {
    /// Bank, from 1.
    pub bank: u8,
    /// Fuel trim that the measured flows call for, percent: estimate, then lower and upper end of its 95 % interval;
    /// `None` unless every injector of the bank was measured.
    pub predicted_pct: Option<[f64; 3]>,
    /// Fuel trim recorded over all regions, percent: mean, then lower and upper end of the 95 % interval that covers
    /// cars and trips; `None` where no trim was recorded.
    pub observed_pct: Option<[f64; 3]>,
    /// Whether prediction and recording agree; `None` where the data do not decide.
    pub agree: Option<bool>,
    /// What the check says.
    pub outcome: FlowOutcome,
}

/// What a flow check says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FlowOutcome {
    /// Not every injector of the bank was measured.
    NotAllMeasured,
    /// No usable fuel trim was recorded.
    NoTrim,
    /// One region stands apart by so many points, which injectors alone do not bring about.
    RegionApart {
        /// The region.
        region: Region,
        /// Its fuel trim less the other regions', points.
        points: f64,
    },
    /// The intervals are too wide to tell.
    TooWide,
    /// The flows explain the fuel trim.
    Explains,
    /// The flows need almost no trim, and the trim is normal.
    BothNormal,
    /// The flows explain a part of the fuel trim.
    ExplainsPart,
    /// The flows need another fuel trim than the recorded one.
    NotWhatFlowsNeed,
    /// The injectors do not explain the fuel trim.
    NotTheInjectors {
        /// All injectors may be down by the same amount, as nothing says what a clean one delivers.
        unless_all_alike: bool,
    },
}

/// What the person should know about the data and about what is not stated.
#[derive(Debug, Clone, PartialEq)]
pub enum Warning {
    /// What is odd about the captures as files or about whose they are, in the words of whoever read them.
    Captures(String),
    /// Little usable data in all captures together.
    MostlyPriors,
    /// A weakness of a capture's data.
    Data(series::warning::Warning),
    /// A price of the vehicle file that no action has.
    UnknownPrice {
        /// Its name.
        name: String,
        /// Names that prices may have.
        known: Vec<String>,
    },
    /// The kind of injection is not stated, and treatment is planned for port injection.
    InjectionNotStated,
}

/// Whether to treat the injectors.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum InjectorAdvice {
    /// The bench found one electrically dead: replace it.
    ReplaceDead,
    /// No fault found.
    NothingToTreat,
    /// The injectors are cleared.
    NotTheInjectors,
    /// One is most probably electrically dead: check, then replace.
    ProbablyDead,
    /// Check before money is spent.
    InDoubt,
    /// Treat them.
    Treat,
}

/// Mean total fuel trim of a bank in a region.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Trim {
    /// Bank, from 1.
    pub bank: u8,
    /// Region.
    pub region: Region,
    /// Mean total fuel trim, percent.
    #[serde(serialize_with = "rounded::hundredths")]
    pub mean_pct: f64,
    /// Standard error of the mean's natural logarithm within these trips (0.01 is one point).
    #[serde(skip)]
    pub std_error_log: f64,
    /// Degrees of freedom of `std_error_log`.
    #[serde(skip)]
    pub degrees_of_freedom: f64,
    /// Lower end of the 95 % interval of the mean within these trips, by Student's t, percent.
    #[serde(serialize_with = "rounded::hundredths")]
    pub low_pct: f64,
    /// Upper end of the 95 % interval of the mean within these trips, by Student's t, percent.
    #[serde(serialize_with = "rounded::hundredths")]
    pub high_pct: f64,
    /// Seconds that entered the mean.
    pub seconds: f64,
}

/// Source of the misfire data.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum MisfireSource {
    /// Counters of service 06.
    Counters,
    /// Trouble codes that name cylinders.
    Codes,
    /// No source.
    #[default]
    Nothing,
}

/// Misfires by cylinder.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Misfires {
    /// Source of the misfire data.
    pub source: MisfireSource,
    /// Engine revolutions during which the counters were read; `None` without counters.
    pub revolutions: Option<f64>,
    /// One entry for each cylinder that has a counter or is named by a code.
    pub cylinders: Vec<CylinderRate>,
    /// The cylinder that has more than its share, where chance does not explain it.
    pub standing_out: Option<StandingOut>,
    /// Freeze frame of the misfire code.
    pub freeze_frame: Option<MisfireFrame>,
}

/// A cylinder with more than its share of the misfires.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StandingOut {
    /// Cylinder, from 1.
    pub cylinder: u8,
    /// This cylinder's share of all misfires counted, 0 to 1.
    pub share: f64,
    /// Probability of such a surplus on any cylinder if all cylinders were alike, 0 to 1.
    pub p_value: f64,
    /// The regulation's name for this spread over the cylinders, where it has one.
    pub pattern: Option<MisfirePattern>,
}

/// Misfires per 1000 revolutions of one cylinder from which the catalyst is in danger: 5 % of that cylinder's 500
/// firings (lowest threshold that the regulation lets a manufacturer set; 13 CCR 1968.2 (e)(3.2.1), from memory).
const HEAVY_PER_1000: f64 = 25.0;

impl Misfires {
    /// Whether a cylinder misfires so much that the catalyst is in danger.
    pub fn is_heavy(&self) -> bool {
        let mut counted = self
            .cylinders
            .iter()
            .filter_map(|cylinder| cylinder.counted);
        counted.any(|counted| counted.per_1000_rev >= HEAVY_PER_1000)
    }
}

/// The misfires of one cylinder.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CylinderRate {
    /// Cylinder, from 1.
    pub cylinder: u8,
    /// Misfires and their rate; `None` when a code names the cylinder without counting.
    pub counted: Option<Counted>,
}

/// A misfire count with its rate and the 95 % interval of the rate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Counted {
    /// Misfires counted.
    pub count: f64,
    /// Misfires per 1000 revolutions.
    pub per_1000_rev: f64,
    /// Lower end of the 95 % interval, misfires per 1000 revolutions.
    pub low: f64,
    /// Upper end of the 95 % interval, misfires per 1000 revolutions.
    pub high: f64,
}

/// One explanation with its probability.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// The cause.
    pub cause: Cause,
    /// Cylinder, from 1, where it is known.
    pub cylinder: Option<u8>,
    /// Bank, from 1, where it applies and is known.
    pub bank: Option<u8>,
    /// Probability of this explanation, 0 to 1.
    pub probability: f64,
    /// How bad the fault would be; `None` where the cause has no size.
    pub severity: Option<Severity>,
    /// A second cause that may well act at the same time.
    pub second_cause: Option<SecondCause>,
    /// Evidence for and against this explanation.
    pub evidence: Vec<Evidence>,
}

/// A second cause that acts at the same time as the first.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SecondCause {
    /// The second cause.
    pub cause: Cause,
    /// Cylinder, from 1, where it is known.
    pub cylinder: Option<u8>,
    /// Probability that both causes act together, 0 to 1: a part of the finding's own probability.
    pub probability: f64,
}

/// How bad a fault would be: median and 5–95 % interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Severity {
    /// What is measured, with its unit.
    pub quantity: SeverityQuantity,
    /// 5 % quantile, in the quantity's unit.
    #[serde(serialize_with = "rounded::hundredths")]
    pub low: f64,
    /// Median, in the quantity's unit.
    #[serde(serialize_with = "rounded::hundredths")]
    pub median: f64,
    /// 95 % quantile, in the quantity's unit.
    #[serde(serialize_with = "rounded::hundredths")]
    pub high: f64,
}

/// One piece of evidence.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// What was seen.
    pub fact: Fact,
    /// Change of the natural logarithm of the odds against `none_found` (for `none_found` itself: against all other
    /// causes together).
    pub log_odds: f64,
}

/// A check worth doing.
#[derive(Debug, Clone, PartialEq)]
pub struct NextCheck {
    /// Identifier of the check in the table of checks.
    pub check: String,
    /// What to do, in one sentence.
    pub how: String,
    /// Expected drop of the entropy of the causes' probabilities, bits.
    pub bits: f64,
    /// Minutes that the check takes.
    pub minutes: f64,
    /// How the check may come out and what each outcome means, in the words of its table.
    pub outcomes: Vec<String>,
    /// Cautions for this check.
    pub cautions: Vec<Caution>,
}

/// A way to treat the injectors.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Treatment {
    /// Identifier of the first action in the table of actions.
    pub action: String,
    /// What to do, in a few words.
    pub how: String,
    /// Parts and labour of this action, in the currency of the price table.
    #[serde(serialize_with = "rounded::hundredths")]
    pub cost: f64,
    /// Minutes of work.
    #[serde(serialize_with = "rounded::whole")]
    pub minutes: f64,
    /// Expected cost until the injectors are right, beginning with this action, given that they are the cause.
    #[serde(serialize_with = "rounded::hundredths")]
    pub expected_cost: f64,
    /// Probability that this action alone puts the car right, 0 to 1, all other causes included.
    #[serde(serialize_with = "rounded::thousandths")]
    pub chance: f64,
    /// Identifiers of the actions that follow where this one was not enough, in order of least expected cost.
    pub then: Vec<String>,
    /// Probability that the injectors are the cause after this action has failed, 0 to 1.
    #[serde(serialize_with = "rounded::thousandths")]
    pub injectors_if_it_fails: f64,
    /// Whether another cause leads after this action has failed: then check before spending more.
    pub stop_if_it_fails: bool,
    /// Notes on this action.
    pub notes: Vec<String>,
    /// Cautions for this action.
    #[serde(serialize_with = "caution::in_words")]
    pub cautions: Vec<Caution>,
}

/// A step after the treatment.
#[derive(Debug, Clone, PartialEq, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AfterStep {
    /// What to do, in one sentence.
    pub how: String,
    /// Cautions for this step.
    pub cautions: Vec<Caution>,
}
