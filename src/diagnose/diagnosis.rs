//! The finding: what is known, what it may be, what to do next. Plain values; how they look is the
//! report's business.

use crate::{
    bench::{Findings, Injector},
    cause::Cause,
    caution::Caution,
    series::{
        gather::misfire_frame::MisfireFrame,
        label::region::Region,
        summary::{NotJudged, Seconds},
    },
    statistics::poisson::MisfirePattern,
};

use super::{circumstances::Circumstances, evidence::Fact};

/// Everything that the captures of one car say about it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Diagnosis {
    /// Banks of the engine, as far as known.
    pub banks: usize,
    /// Seconds by label, all captures together.
    pub seconds: Seconds,
    /// Why there is no judgement; `causes` is empty then.
    pub not_judged: Option<NotJudged>,
    /// Total correction by bank and region.
    pub trims: Vec<Trim>,
    /// Misfires by cylinder.
    pub misfires: Misfires,
    /// What it may be, most probable first; the probabilities sum to 1.
    pub causes: Vec<Finding>,
    /// What the bench readings say, where there are any.
    pub bench: Option<Findings>,
    /// Whether the flows measured on the bench explain the corrections logged, bank by bank.
    pub flow_checks: Vec<FlowCheck>,
    /// What to check next, most bits a minute first.
    pub next_checks: Vec<NextCheck>,
    /// What decides which checks make sense on this car.
    pub circumstances: Circumstances,
    /// What can be done about the injectors, least expected cost first; empty when they are not
    /// worth treating.
    pub treatment: Vec<Treatment>,
    /// Whether to treat injectors at all, in a sentence; empty where nothing was judged.
    pub injector_advice: String,
    /// What follows any treatment; empty when there is none.
    pub after_treatment: Vec<AfterStep>,
    /// Trouble codes met, each once.
    pub codes: Vec<String>,
    /// What the person should know about these data, in plain sentences.
    pub warnings: Vec<String>,
    /// Cautions of the state found and of the steps advised, each once.
    pub cautions: Vec<Caution>,
}

/// The injectors are cleared when all their causes together stay below this.
const NOT_THE_INJECTORS: f64 = 0.2;

impl Diagnosis {
    /// Whether the injectors are hardly the cause: then they are not to be treated.
    pub fn clears_injectors(&self) -> bool {
        self.injector_probability() < NOT_THE_INJECTORS && !self.has_dead_coil()
    }

    /// Whether the bench has found an injector whose coil is open or shorted, beyond doubt.
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

    /// Probability of a cause at all its places together, 0 to 1.
    pub fn probability_of(&self, cause: Cause) -> f64 {
        let same = self.causes.iter().filter(|finding| finding.cause == cause);
        same.map(|finding| finding.probability).sum()
    }
}

/// Whether the flows of a bank's injectors explain its correction.
#[derive(Debug, Clone, PartialEq)]
pub struct FlowCheck {
    /// Bank, from 1.
    pub bank: u8,
    /// Correction that the measured flows need, percent, with its 95 % interval; `None` unless every injector of the bank
    /// was measured.
    pub predicted_pct: Option<[f64; 3]>,
    /// Correction logged, over all regions, with the 95 % interval that cars and trips differ by; `None` without one.
    pub observed_pct: Option<[f64; 3]>,
    /// Whether they agree; `None` where that cannot be told.
    pub agree: Option<bool>,
    /// The same in words.
    pub words: String,
}

/// Mean total correction of a bank in a region, percent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trim {
    /// Bank, from 1.
    pub bank: u8,
    /// Region.
    pub region: Region,
    /// Mean, percent.
    pub mean_pct: f64,
    /// Standard error of the mean's logarithm inside these trips, and its degrees of freedom.
    pub std_error_log: f64,
    /// See `std_error_log`.
    pub degrees_of_freedom: f64,
    /// Lower end of the 95 % interval of the mean inside these trips, by Student's t, percent.
    pub low_pct: f64,
    /// Upper end, percent.
    pub high_pct: f64,
    /// Seconds that counted.
    pub seconds: f64,
}

/// Where misfires are known from.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum MisfireSource {
    /// Counters of service 06.
    Counters,
    /// Trouble codes name cylinders.
    Codes,
    /// Nothing tells.
    #[default]
    Nothing,
}

/// Misfires by cylinder.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Misfires {
    /// Where they are known from.
    pub source: MisfireSource,
    /// Revolutions during which counters were watched.
    pub revolutions: Option<f64>,
    /// One entry a cylinder that is counted or named.
    pub cylinders: Vec<CylinderRate>,
    /// The cylinder that has more than its share, if that is beyond chance.
    pub standing_out: Option<StandingOut>,
    /// What was noted down when a misfire code was stored.
    pub freeze_frame: Option<MisfireFrame>,
}

/// A cylinder with more than its share of the misfires.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StandingOut {
    /// Cylinder, from 1.
    pub cylinder: u8,
    /// Its share of all misfires counted, 0 to 1.
    pub share: f64,
    /// Chance of such a surplus on any cylinder if all were alike, 0 to 1.
    pub p_value: f64,
    /// The regulation's word for this spread over the cylinders, where it has one.
    pub pattern: Option<MisfirePattern>,
}

/// From so many misfires in 1000 revolutions the catalyst is in danger: 5 % of one cylinder's 500
/// firings (lowest threshold that the regulation lets a maker set; 13 CCR 1968.2 (e)(3.2.1), from
/// memory).
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

/// A count with its rate per 1000 revolutions and the 95 % interval of that.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Counted {
    /// Misfires.
    pub count: f64,
    /// Per 1000 revolutions.
    pub per_1000_rev: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// One explanation with its doubt.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// The cause.
    pub cause: Cause,
    /// Cylinder, from 1, where it is known.
    pub cylinder: Option<u8>,
    /// Bank, from 1, where it applies and is known.
    pub bank: Option<u8>,
    /// 0 to 1.
    pub probability: f64,
    /// How bad it would be.
    pub severity: Option<Severity>,
    /// A second cause that may well be at work at the same time.
    pub beside: Option<Beside>,
    /// What speaks for and against it.
    pub evidence: Vec<Evidence>,
}

/// A second cause at the same time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beside {
    /// The cause.
    pub cause: Cause,
    /// Cylinder, from 1, where it is known.
    pub cylinder: Option<u8>,
    /// How probable both together are, 0 to 1: a part of the finding's own probability.
    pub probability: f64,
}

/// How bad a cause would be: median and 5–95 % interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Severity {
    /// Name of the quantity, with its unit.
    pub quantity: &'static str,
    /// 5 %.
    pub low: f64,
    /// 50 %.
    pub median: f64,
    /// 95 %.
    pub high: f64,
}

/// One piece of evidence.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// What was seen.
    pub fact: Fact,
    /// How far it moved the natural logarithm of the odds against `none_found` (for `none_found`
    /// itself: against all the rest).
    pub log_odds: f64,
}

/// A check worth doing.
#[derive(Debug, Clone, PartialEq)]
pub struct NextCheck {
    /// Identifier of the check.
    pub check: String,
    /// What to do, in one sentence.
    pub how: String,
    /// Expected drop of the doubt, bits.
    pub bits: f64,
    /// Minutes it takes.
    pub minutes: f64,
    /// What each outcome would mean.
    pub reading: String,
    /// What to mind while doing it.
    pub cautions: Vec<Caution>,
}

/// A way to treat the injectors.
#[derive(Debug, Clone, PartialEq)]
pub struct Treatment {
    /// Identifier of the action to begin with.
    pub action: String,
    /// What to do, in a few words.
    pub how: String,
    /// Parts and labour of this action.
    pub cost: f64,
    /// Minutes of work.
    pub minutes: f64,
    /// Expected cost until the injectors are right, beginning with this action, if it is the
    /// injectors.
    pub expected_cost: f64,
    /// Chance that this action alone puts the car right, 0 to 1, with all that it may be instead.
    pub chance: f64,
    /// What follows it, in order, where it was not enough: the way that costs least.
    pub then: Vec<String>,
    /// Probability of the injectors after this action has failed, 0 to 1.
    pub injectors_if_it_fails: f64,
    /// Another cause leads by then: check before spending more.
    pub stop_if_it_fails: bool,
    /// What is special about it.
    pub notes: Vec<String>,
    /// What to mind while doing it.
    pub cautions: Vec<Caution>,
}

/// A step after the treatment.
#[derive(Debug, Clone, PartialEq, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AfterStep {
    /// What to do.
    pub how: String,
    /// What to mind.
    pub cautions: Vec<Caution>,
}
