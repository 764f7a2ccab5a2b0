//! What to do about the injectors, by one editable table: the ladder from the mildest to the final action, and what
//! follows.

use serde::Deserialize;

use crate::{
    cause::Cause,
    caution::Caution,
    entries,
    vehicle::{Injection, Vehicle},
};

use super::{
    diagnosis::{AfterStep, Finding, Treatment, Warning},
    ladder::{self, Rung, Sequence},
    table_error::TableError,
};

/// Probability, 0 to 1, from which an action is considered helpful (assumed).
const HELPS: f64 = 0.01;
/// Flow losses at the borders between the columns of the action table, percent (assumed).
const STEPS_PCT: [f64; 2] = [15.0, 35.0];
/// Flow loss assumed for a finding without a size, percent.
const USUAL_LOSS_PCT: f64 = 20.0;
/// Name of the labour rate among a vehicle's prices.
const LABOUR: &str = "labour_per_hour";

/// The table of actions, mildest first.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Actions {
    labour_per_hour: f64,
    action: Vec<Action>,
    after: Vec<AfterStep>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
struct Action {
    id: String,
    /// Every injector of the engine is treated, not only those concerned.
    #[serde(default)]
    whole_set: bool,
    port: Work,
    direct: Work,
}

/// The work of an action on one kind of engine.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
struct Work {
    how: String,
    #[serde(default)]
    parts: f64,
    #[serde(default)]
    each_parts: f64,
    #[serde(default)]
    minutes: f64,
    #[serde(default)]
    each_minutes: f64,
    restricted: [f64; 3],
    dead: f64,
    leaking: f64,
    #[serde(default)]
    notes: Vec<String>,
    cautions: Vec<Caution>,
}

impl Work {
    /// Probability that this action or a milder one is enough for a finding, 0 to 1.
    fn chance(&self, finding: &Finding) -> f64 {
        match finding.cause {
            Cause::InjectorDead => self.dead,
            Cause::InjectorLeaking => self.leaking,
            Cause::InjectorRestricted | Cause::InjectorsRestrictedSeveral => {
                let size = finding.severity.map(|severity| severity.median);
                let loss = size.unwrap_or(USUAL_LOSS_PCT);
                let column = STEPS_PCT.iter().filter(|step| loss > **step).count();
                self.restricted.get(column).copied().unwrap_or(0.0)
            }
            _ => 0.0,
        }
    }
}

impl Actions {
    /// Reads a table.
    ///
    /// # Errors
    /// When it is no TOML of the right form.
    pub fn from_toml(text: &str) -> Result<Self, TableError> {
        entries::read(text).map_err(TableError::Format)
    }

    /// Steps that follow any treatment.
    pub fn after(&self) -> &[AfterStep] {
        &self.after
    }

    /// A price in the vehicle file that matches no action; `None` where all match.
    pub fn unknown_price(&self, vehicle: &Vehicle) -> Option<Warning> {
        let known: Vec<&str> = self
            .action
            .iter()
            .map(|action| action.id.as_str())
            .collect();
        let unknown = |name: &&String| name.as_str() != LABOUR && !known.contains(&name.as_str());
        let name = vehicle.prices.keys().find(unknown)?;
        let known = std::iter::once(LABOUR).chain(known).map(str::to_owned);
        Some(Warning::UnknownPrice {
            name: name.clone(),
            known: known.collect(),
        })
    }

    /// Ways to treat the injectors, least expected cost first; none where nothing helps. `bank_cylinders` is the number
    /// of cylinders of a bank. With `dead_coil`, an open or shorted winding on the bench, nothing is cleaned, whatever
    /// the odds say.
    pub fn rank(
        &self,
        findings: &[Finding],
        bank_cylinders: f64,
        banks: usize,
        vehicle: &Vehicle,
        dead_coil: bool,
    ) -> Vec<Treatment> {
        let injectors = Injectors {
            findings: findings.iter().filter(|f| f.cause.is_injector()).collect(),
            bank_cylinders,
            banks: banks as f64,
        };
        let probability = injectors.probability();
        if probability <= 0.0 {
            return Vec::new();
        }
        let dead = dead_coil || injectors.are_dead();
        let rungs: Vec<(&Action, &Work, Rung)> = self
            .action
            .iter()
            .map(|action| (action, action.work(vehicle)))
            .filter(|(_, work)| work.dead > 0.0 || !dead)
            .map(|(action, work)| {
                let enough = injectors.mean(|finding| work.chance(finding));
                let cost = self.cost(action, &injectors, vehicle);
                (action, work, Rung { cost, enough })
            })
            .filter(|(_, _, rung)| rung.enough > HELPS)
            .collect();
        let other = findings
            .iter()
            .filter(|finding| !finding.cause.is_injector())
            .map(|finding| finding.probability)
            .fold(0.0, f64::max);
        let plain: Vec<Rung> = rungs.iter().map(|(_, _, rung)| *rung).collect();
        let name = |index: &usize| rungs.get(*index).map(|(action, ..)| action.id.clone());
        let mut ranked: Vec<Treatment> = (0..)
            .zip(&rungs)
            .map(|(index, (action, work, rung))| {
                let Sequence {
                    cost,
                    rungs: sequence,
                } = ladder::cheapest_sequence(&plain, index, 0.0);
                let [left, other] = ladder::after_failure(probability, rung.enough, other);
                Treatment {
                    action: action.id.clone(),
                    how: work.how.clone(),
                    cost: rung.cost,
                    minutes: work.minutes + injectors.count(action) * work.each_minutes,
                    expected_cost: cost,
                    chance: probability * rung.enough,
                    then: sequence.iter().skip(1).filter_map(name).collect(),
                    injectors_if_it_fails: left,
                    stop_if_it_fails: left < other,
                    notes: work.notes.clone(),
                    cautions: work.cautions.clone(),
                }
            })
            .collect();
        ranked.sort_by(|a, b| a.expected_cost.total_cmp(&b.expected_cost));
        ranked
    }

    /// Parts and labour of an action, or the vehicle's own price for it.
    fn cost(&self, action: &Action, injectors: &Injectors<'_>, vehicle: &Vehicle) -> f64 {
        let price = |name: &str| vehicle.prices.get(name).copied();
        if let Some(price) = price(&action.id) {
            return price;
        }
        let per_minute = price(LABOUR).unwrap_or(self.labour_per_hour) / 60.0;
        let work = action.work(vehicle);
        let each = work.each_parts + per_minute * work.each_minutes;
        work.parts + per_minute * work.minutes + each * injectors.count(action)
    }
}

impl Action {
    /// The work on this engine; where the vehicle file does not say, the work on the more common kind.
    fn work(&self, vehicle: &Vehicle) -> &Work {
        match vehicle.injection {
            Some(Injection::Direct) => &self.direct,
            _ => &self.port,
        }
    }
}

/// The findings that blame the injectors.
struct Injectors<'a> {
    findings: Vec<&'a Finding>,
    bank_cylinders: f64,
    banks: f64,
}

impl Injectors<'_> {
    fn probability(&self) -> f64 {
        let each = self.findings.iter().map(|finding| finding.probability);
        each.sum()
    }

    /// Whether, given that the injectors are the cause, a dead one is the most probable; such an injector is never
    /// cleaned.
    fn are_dead(&self) -> bool {
        let dead = self
            .findings
            .iter()
            .filter(|finding| finding.cause == Cause::InjectorDead);
        dead.map(|finding| finding.probability).sum::<f64>() > 0.5 * self.probability()
    }

    /// Mean of a value over the findings, weighted by their probabilities.
    fn mean(&self, of: impl Fn(&Finding) -> f64) -> f64 {
        let parts = self
            .findings
            .iter()
            .map(|finding| finding.probability * of(finding));
        parts.sum::<f64>() / self.probability()
    }

    /// Number of injectors that an action treats.
    fn count(&self, action: &Action) -> f64 {
        if action.whole_set {
            self.bank_cylinders * self.banks
        } else {
            self.mean(|finding| self.concerned(finding))
        }
    }

    /// Number of injectors that a finding concerns.
    fn concerned(&self, finding: &Finding) -> f64 {
        match (finding.cause, finding.bank) {
            (Cause::InjectorsRestrictedSeveral, Some(_)) => self.bank_cylinders,
            (Cause::InjectorsRestrictedSeveral, None) => self.bank_cylinders * self.banks,
            _ => 1.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cause::SeverityQuantity;
    use crate::caution::wanted_by;
    use crate::diagnose::diagnosis::Severity;

    fn finding(cause: Cause, probability: f64, loss_pct: f64) -> Finding {
        Finding {
            cause,
            cylinder: Some(2),
            bank: Some(1),
            probability,
            severity: Some(Severity {
                quantity: SeverityQuantity::FlowLossPct,
                low: loss_pct,
                median: loss_pct,
                high: loss_pct,
            }),
            second_cause: None,
            evidence: Vec::new(),
        }
    }

    fn ranked(findings: &[Finding], vehicle: &Vehicle) -> Vec<Treatment> {
        let table = Actions::from_toml(include_str!("treatment.toml")).unwrap();
        table.rank(findings, 4.0, 1, vehicle, false)
    }

    fn of<'a>(ranked: &'a [Treatment], action: &str) -> &'a Treatment {
        ranked
            .iter()
            .find(|sequence| sequence.action == action)
            .unwrap()
    }

    #[test]
    fn a_dead_injector_is_never_cleaned() {
        let sure = ranked(
            &[finding(Cause::InjectorDead, 1.0, 0.0)],
            &Vehicle::default(),
        );
        let actions: Vec<&str> = sure
            .iter()
            .map(|sequence| sequence.action.as_str())
            .collect();
        assert_eq!(actions, ["replace"]);
        let leading = [
            finding(Cause::InjectorDead, 0.6, 0.0),
            finding(Cause::InjectorRestricted, 0.4, 20.0),
        ];
        assert_eq!(ranked(&leading, &Vehicle::default()).len(), 1);
    }

    /// By hand from the table at 90 an hour: cleaning on the car 30 and an hour make 120; replacing one injector 10 + 110
    /// and 100 minutes make 270. At 60 an hour 90 and 220.
    #[test]
    fn labour_counts_at_the_stated_rate() {
        let restricted = [finding(Cause::InjectorRestricted, 0.8, 25.0)];
        let usual = ranked(&restricted, &Vehicle::default());
        assert!((of(&usual, "clean_on_car").cost - 120.0).abs() < 1e-9);
        assert!((of(&usual, "replace").cost - 270.0).abs() < 1e-9);
        assert!((of(&usual, "replace").minutes - 100.0).abs() < 1e-9);
        let mut vehicle = Vehicle::default();
        vehicle.prices.insert(LABOUR.to_owned(), 60.0);
        vehicle.prices.insert("clean_on_bench".to_owned(), 500.0);
        let cheaper = ranked(&restricted, &vehicle);
        assert!((of(&cheaper, "clean_on_car").cost - 90.0).abs() < 1e-9);
        assert!((of(&cheaper, "replace").cost - 220.0).abs() < 1e-9);
        assert!((of(&cheaper, "clean_on_bench").cost - 500.0).abs() < 1e-9);
        // by hand: 90 for the cleaning, and 0.45 of 220 where it was not enough
        assert!((of(&cheaper, "clean_on_car").expected_cost - 189.0).abs() < 1e-9);
        assert_eq!(of(&cheaper, "clean_on_car").then, ["replace"]);
    }

    #[test]
    fn it_stops_where_failure_makes_another_cause_lead() {
        let other = |probability| finding(Cause::AirMeterLow, probability, 10.0);
        let doubtful = [finding(Cause::InjectorRestricted, 0.5, 10.0), other(0.45)];
        // by hand: 0.25 of 0.5 are 0.125, less than 0.45
        assert!(of(&ranked(&doubtful, &Vehicle::default()), "clean_on_car").stop_if_it_fails);
        let sure = [finding(Cause::InjectorRestricted, 0.95, 10.0), other(0.03)];
        assert!(!of(&ranked(&sure, &Vehicle::default()), "clean_on_car").stop_if_it_fails);
    }

    #[test]
    fn direct_injection_costs_more_and_says_what_is_special() {
        let restricted = [finding(Cause::InjectorRestricted, 0.8, 25.0)];
        let port = ranked(&restricted, &Vehicle::default());
        let vehicle = Vehicle {
            injection: Some(Injection::Direct),
            ..Vehicle::default()
        };
        let direct = ranked(&restricted, &vehicle);
        for action in ["clean_on_car", "clean_on_bench", "replace"] {
            let (port, direct) = (of(&port, action), of(&direct, action));
            assert!(
                direct.cost > port.cost && direct.chance <= port.chance,
                "{action}"
            );
        }
        let notes = of(&direct, "replace").notes.join(" ");
        assert!(
            notes.contains("single-use") && notes.contains("number printed"),
            "{notes}"
        );
        let notes = of(&direct, "tank_additive").notes.join(" ");
        assert!(notes.contains("walnut"), "{notes}");
    }

    /// A step is read alone, by somebody under a car: it carries the dangers of what it asks for.
    #[test]
    fn every_action_and_what_follows_carries_the_cautions_of_what_it_asks_for() {
        let table = Actions::from_toml(include_str!("treatment.toml")).unwrap();
        let works = table
            .action
            .iter()
            .flat_map(|action| [&action.port, &action.direct]);
        let works = works.map(|work| (&work.how, &work.cautions));
        let after = table.after.iter().map(|step| (&step.how, &step.cautions));
        let mut asked = 0;
        for (how, cautions) in works.chain(after) {
            for caution in wanted_by(how) {
                asked += 1;
                assert!(cautions.contains(&caution), "{how}: {caution:?}");
            }
        }
        assert!(asked > 15, "{asked}");
    }

    #[test]
    fn a_price_for_nothing_is_named() {
        let table = Actions::from_toml(include_str!("treatment.toml")).unwrap();
        let mut vehicle = Vehicle::default();
        vehicle.prices.insert(LABOUR.to_owned(), 80.0);
        assert_eq!(table.unknown_price(&vehicle), None);
        vehicle.prices.insert("labor_per_hour".to_owned(), 80.0);
        let Some(Warning::UnknownPrice { name, known }) = table.unknown_price(&vehicle) else {
            panic!("a price that no action has is not named");
        };
        assert_eq!(name, "labor_per_hour");
        assert!(known.iter().any(|name| name == "clean_on_car"), "{known:?}");
    }
}
