//! What to do about the injectors: the ladder from mild to final, by expected cost.
//!
//! What a mild treatment cures a stronger one cures too, so the chance of each rung includes the
//! milder ones. A way through the ladder begins with one rung and goes on with stronger ones; its
//! expected cost adds each rung's price times the chance that it is still needed. For every
//! beginning the cheapest way is taken.

use serde::Deserialize;

use crate::{cause::Cause, caution::Caution, vehicle::Vehicle};

use super::{
    diagnosis::{Finding, Treatment},
    table_error::TableError,
};

/// Below this probability of the injectors nothing is to be treated.
const WORTH_TREATING: f64 = 0.10;
/// An action helps from this chance on.
const HELPS: f64 = 0.01;
/// Flow losses that part the columns of the table, percent.
const STEPS_PCT: [f64; 2] = [15.0, 35.0];

/// The table of actions, mildest first.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Actions {
    action: Vec<Action>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
struct Action {
    id: String,
    how: String,
    cost: f64,
    /// Added for every injector concerned.
    #[serde(default)]
    each: f64,
    restricted: [f64; 3],
    dead: f64,
    leaking: f64,
    cautions: Vec<Caution>,
}

impl Action {
    /// Chance that this action or a milder one is enough for a finding.
    fn chance(&self, finding: &Finding) -> f64 {
        match finding.cause {
            Cause::InjectorDead => self.dead,
            Cause::InjectorLeaking => self.leaking,
            Cause::InjectorRestricted | Cause::InjectorsRestrictedSeveral => {
                let loss = finding.severity.map_or(20.0, |severity| severity.median);
                let column = STEPS_PCT.iter().filter(|step| loss > **step).count();
                self.restricted.get(column).copied().unwrap_or(0.0)
            }
            _ => 0.0,
        }
    }
}

/// One rung of the ladder for this car.
#[derive(Debug, Clone, Copy)]
struct Rung {
    cost: f64,
    /// Chance that it or a milder one is enough, if it is the injectors.
    enough: f64,
}

impl Actions {
    /// Reads a table.
    ///
    /// # Errors
    /// When it is no TOML of the right form.
    pub fn from_toml(text: &str) -> Result<Self, TableError> {
        toml::from_str(text).map_err(TableError::format)
    }

    /// Ways to treat the injectors, least expected cost first; none when it is hardly the injectors
    /// or nothing helps. `bank_cylinders` is the number of cylinders of a bank.
    pub fn rank(
        &self,
        findings: &[Finding],
        bank_cylinders: f64,
        banks: usize,
        vehicle: &Vehicle,
    ) -> Vec<Treatment> {
        let injectors = Injectors {
            findings: findings.iter().filter(|f| f.cause.is_injector()).collect(),
            bank_cylinders,
            banks: banks as f64,
        };
        let probability = injectors.probability();
        if probability < WORTH_TREATING {
            return Vec::new();
        }
        let rungs: Vec<Rung> = self
            .action
            .iter()
            .map(|action| Rung {
                cost: injectors.cost(action, vehicle.prices.get(&action.id).copied()),
                enough: injectors.mean(|finding| action.chance(finding)),
            })
            .collect();
        let ways = self.action.iter().zip(&rungs).enumerate();
        let mut ranked: Vec<Treatment> = ways
            .filter(|(_, (_, rung))| rung.enough > HELPS)
            .filter(|(_, (action, _))| action.dead > 0.0 || !injectors.are_dead())
            .map(|(index, (action, rung))| Treatment {
                action: action.id.clone(),
                how: action.how.clone(),
                expected_cost: cheapest_way(&rungs, index, 0.0),
                chance: probability * rung.enough,
                cautions: action.cautions.clone(),
            })
            .collect();
        ranked.sort_by(|a, b| a.expected_cost.total_cmp(&b.expected_cost));
        ranked
    }
}

/// The findings that blame injectors.
struct Injectors<'a> {
    findings: Vec<&'a Finding>,
    bank_cylinders: f64,
    banks: f64,
}

impl Injectors<'_> {
    fn probability(&self) -> f64 {
        self.findings
            .iter()
            .map(|finding| finding.probability)
            .sum()
    }

    /// Whether, if it is the injectors, one is more probably dead than anything else: never to be cleaned.
    fn are_dead(&self) -> bool {
        let dead = self
            .findings
            .iter()
            .filter(|f| f.cause == Cause::InjectorDead);
        dead.map(|finding| finding.probability).sum::<f64>() > 0.5 * self.probability()
    }

    /// Mean over the findings by their probabilities.
    fn mean(&self, of: impl Fn(&Finding) -> f64) -> f64 {
        let parts = self
            .findings
            .iter()
            .map(|finding| finding.probability * of(finding));
        parts.sum::<f64>() / self.probability()
    }

    fn cost(&self, action: &Action, price: Option<f64>) -> f64 {
        price.unwrap_or_else(|| {
            self.mean(|finding| action.cost + action.each * self.concerned(finding))
        })
    }

    /// How many injectors a finding is about.
    fn concerned(&self, finding: &Finding) -> f64 {
        match (finding.cause, finding.bank) {
            (Cause::InjectorsRestrictedSeveral, Some(_)) => self.bank_cylinders,
            (Cause::InjectorsRestrictedSeveral, None) => self.bank_cylinders * self.banks,
            _ => 1.0,
        }
    }
}

/// Expected cost of beginning with a rung after rungs that were enough with chance `before`, and
/// going on the cheapest way.
fn cheapest_way(rungs: &[Rung], first: usize, before: f64) -> f64 {
    let Some(rung) = rungs.get(first) else {
        return 0.0;
    };
    let reached = rung.enough.max(before);
    let onward = (first + 1..rungs.len())
        .map(|next| cheapest_way(rungs, next, reached))
        .reduce(f64::min);
    (1.0 - before) * rung.cost + onward.unwrap_or(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand, with an additive (20, enough 0.2), a cleaning (100, 0.6) and replacing (300, 1):
    /// from the cleaning 100 and 0.4 of 300 make 220; from the additive 20, 0.8 of 100 and 0.4 of
    /// 300 make 220, and straight on to replacing 20 and 0.8 of 300 make 260.
    #[test]
    fn the_expected_cost_adds_what_is_still_needed() {
        let rung = |cost, enough| Rung { cost, enough };
        let rungs = [rung(20.0, 0.2), rung(100.0, 0.6), rung(300.0, 1.0)];
        assert!((cheapest_way(&rungs, 1, 0.0) - 220.0).abs() < 1e-9);
        assert!((cheapest_way(&rungs, 0, 0.0) - 220.0).abs() < 1e-9);
        assert!((cheapest_way(&rungs, 2, 0.0) - 300.0).abs() < 1e-9);
    }

    #[test]
    fn a_dead_injector_is_never_cleaned() {
        let table = Actions::from_toml(include_str!("treatment.toml")).unwrap();
        let dead = Finding {
            cause: Cause::InjectorDead,
            cylinder: Some(2),
            bank: Some(1),
            probability: 1.0,
            severity: None,
            beside: None,
            evidence: Vec::new(),
        };
        let ranked = table.rank(&[dead], 4.0, 1, &Vehicle::default());
        let actions: Vec<&str> = ranked.iter().map(|t| t.action.as_str()).collect();
        assert_eq!(actions, ["replace"]);
    }
}
