//! What to check next: the expected drop of the entropy in bits for each minute that a check takes.
//!
//! The uncertainty is the entropy of the causes' probabilities. A check's outcomes are weighed by the present
//! probabilities; the table holds the probability of each outcome under each cause.

use std::collections::BTreeMap;

use serde::Deserialize;

use crate::{
    cause::{Cause, Scope},
    caution::Caution,
    entries,
    series::label::region::Region,
};

use super::{
    circumstances::Circumstances,
    diagnosis::{Evidence, Finding, NextCheck},
    fact::Fact,
    table_error::TableError,
};

/// Expected information, bits, below which a check is not worth its minutes (assumed). The best check is advised
/// regardless, to confirm the leading cause.
const LEAST_BITS: f64 = 0.01;
/// Smallest probability of an outcome under any cause: hands slip and tables err (assumed). It bounds how far one check
/// can move the odds.
const LEAST_CHANCE: f64 = 0.005;
/// Largest number of checks advised (assumed).
const MOST_CHECKS: usize = 5;
/// Seconds of recording from which a region is recorded well enough (assumed).
const RECORDED_S: f64 = 120.0;
/// Seconds of recording from which more counting of misfires adds little (assumed).
const COUNTED_S: f64 = 600.0;
/// Probability, summed over the causes of one cylinder, 0 to 1, from which that cylinder is named in the advice on
/// where to check (assumed; the odds do not depend on it).
const SUSPECT: f64 = 0.15;

/// The table of checks.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Checks {
    check: Vec<Check>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
struct Check {
    id: String,
    how: String,
    #[serde(default)]
    how_direct: Option<String>,
    minutes: f64,
    region: Option<Region>,
    #[serde(default)]
    needs: Vec<Need>,
    #[serde(default)]
    finds_cylinder: f64,
    cautions: Vec<Caution>,
    outcomes: Vec<Outcome>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Need {
    Cylinder,
    Counters,
    NoCounters,
    NoHeavyMisfire,
    TwoBanks,
    PortInjection,
    AirMeter,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
struct Outcome {
    says: String,
    otherwise: f64,
    #[serde(default)]
    chance: BTreeMap<Cause, f64>,
}

impl Checks {
    /// Reads a table.
    ///
    /// # Errors
    /// When it is no TOML of the right form.
    pub fn from_toml(text: &str) -> Result<Self, TableError> {
        entries::read(text).map_err(TableError::Format)
    }

    /// The checks worth doing, most bits a minute first.
    pub fn rank(&self, findings: &[Finding], circumstances: &Circumstances) -> Vec<NextCheck> {
        let suspect = suspect(findings);
        let odds = by_cause(findings);
        let unnamed = unnamed(findings);
        let mut ranked: Vec<NextCheck> = self
            .check
            .iter()
            .filter(|check| check.makes_sense(circumstances, suspect))
            .map(|check| {
                let cylinder_bits = circumstances.cylinders.max(1.0).log2();
                let named = check.named(&unnamed) * cylinder_bits;
                NextCheck {
                    check: check.id.clone(),
                    how: check.how_for(suspect, circumstances.direct),
                    bits: check.bits(&odds) + named,
                    minutes: check.minutes,
                    outcomes: check.says(),
                    cautions: check.cautions.clone(),
                }
            })
            .collect();
        let rate = |next: &NextCheck| next.bits / next.minutes.max(1.0);
        ranked.sort_by(|a, b| rate(b).total_cmp(&rate(a)));
        let mut kept = 0;
        ranked.retain(|next| {
            kept += 1;
            kept == 1 || next.bits >= LEAST_BITS
        });
        ranked.truncate(MOST_CHECKS);
        ranked
    }

    /// Minutes that a check takes; `None` where the table has no such check.
    pub fn minutes(&self, check: &str) -> Option<f64> {
        self.check
            .iter()
            .find(|row| row.id == check)
            .map(|row| row.minutes)
    }

    /// The findings after a check had one outcome (`outcome` counts from 0 in the table's order): each cause is weighed
    /// by the probability of that outcome under it, most probable first, with the outcome added as evidence. `None`
    /// where the table has no such check or outcome.
    pub fn after(&self, findings: &[Finding], check: &str, outcome: usize) -> Option<Vec<Finding>> {
        let check = self.check.iter().find(|row| row.id == check)?;
        let says = &check.outcomes.get(outcome)?.says;
        let chance = |cause| check.chances(cause).get(outcome).copied().unwrap_or(0.0);
        let sound = chance(Cause::NoneFound).max(LEAST_CHANCE);
        let weighed = findings.iter().map(|finding| {
            let chance = chance(finding.cause).max(LEAST_CHANCE);
            let mut finding = finding.clone();
            finding.probability *= chance;
            finding.evidence.push(Evidence {
                fact: Fact::CheckOutcome(says.clone()),
                log_odds: (chance / sound).ln(),
            });
            finding
        });
        let mut after: Vec<Finding> = weighed.collect();
        let sum: f64 = after.iter().map(|finding| finding.probability).sum();
        for finding in &mut after {
            finding.probability /= sum.max(f64::MIN_POSITIVE);
        }
        after.sort_by(|a, b| b.probability.total_cmp(&a.probability));
        Some(after)
    }
}

impl Check {
    fn makes_sense(&self, circumstances: &Circumstances, suspect: Option<u8>) -> bool {
        let recorded = self
            .region
            .is_some_and(|region| circumstances.seconds[region] >= RECORDED_S);
        let is_met = |need: &Need| match need {
            Need::Cylinder => suspect.is_some(),
            Need::Counters => {
                circumstances.counters && circumstances.seconds.values().sum::<f64>() < COUNTED_S
            }
            Need::NoCounters => !circumstances.counters,
            Need::NoHeavyMisfire => !circumstances.heavy_misfire,
            Need::TwoBanks => circumstances.banks > 1,
            Need::PortInjection => !circumstances.direct,
            Need::AirMeter => !circumstances.without_maf_sensor,
        };
        let met = self.needs.iter().all(is_met);
        met && !recorded && !circumstances.done.contains(&self.id)
    }

    fn how_for(&self, suspect: Option<u8>, direct: bool) -> String {
        let cylinder = suspect.map_or_else(|| "?".to_owned(), |number| number.to_string());
        let special = self.how_direct.as_ref().filter(|_| direct);
        special
            .unwrap_or(&self.how)
            .replace("{cylinder}", &cylinder)
    }

    fn says(&self) -> Vec<String> {
        let outcomes = self.outcomes.iter();
        outcomes.map(|outcome| outcome.says.clone()).collect()
    }

    /// Probability of each outcome of the check under a cause.
    fn chances(&self, cause: Cause) -> Vec<f64> {
        let raw = self.outcomes.iter();
        let raw: Vec<f64> = raw
            .map(|outcome| *outcome.chance.get(&cause).unwrap_or(&outcome.otherwise))
            .collect();
        let sum: f64 = raw.iter().sum();
        raw.into_iter()
            .map(|chance| chance / sum.max(1e-9))
            .collect()
    }

    /// Expected drop of the entropy by this check, bits.
    fn bits(&self, odds: &BTreeMap<Cause, f64>) -> f64 {
        let joint: Vec<Vec<f64>> = odds
            .iter()
            .map(|(cause, probability)| {
                let chances = self.chances(*cause).into_iter();
                chances.map(|chance| chance * probability).collect()
            })
            .collect();
        let after: f64 = (0..self.outcomes.len())
            .map(|outcome| {
                let column = joint.iter().filter_map(|row| row.get(outcome).copied());
                let column: Vec<f64> = column.collect();
                let sum: f64 = column.iter().sum();
                sum * entropy(column.iter().map(|p| p / sum.max(1e-300)))
            })
            .sum();
        (entropy(odds.values().copied()) - after).max(0.0)
    }

    /// Probability that the check names a cylinder that is not known yet, 0 to 1.
    fn named(&self, unnamed: &BTreeMap<Cause, f64>) -> f64 {
        let found = unnamed.iter().map(|(cause, probability)| {
            let telling = self.chances(*cause).first().copied().unwrap_or(0.0);
            probability * telling
        });
        self.finds_cylinder * found.sum::<f64>()
    }
}

/// Shannon entropy of these probabilities, bits.
fn entropy(probabilities: impl Iterator<Item = f64>) -> f64 {
    let positive = probabilities.filter(|p| *p > 0.0);
    positive.map(|p| -p * p.log2()).sum()
}

fn by_cause(findings: &[Finding]) -> BTreeMap<Cause, f64> {
    let mut odds = BTreeMap::new();
    for finding in findings {
        *odds.entry(finding.cause).or_insert(0.0) += finding.probability;
    }
    odds
}

/// Probabilities of the causes of one cylinder whose cylinder is not named.
fn unnamed(findings: &[Finding]) -> BTreeMap<Cause, f64> {
    let open =
        |finding: &&Finding| finding.cause.scope() == Scope::Cylinder && finding.cylinder.is_none();
    let mut odds = BTreeMap::new();
    for finding in findings.iter().filter(open) {
        *odds.entry(finding.cause).or_insert(0.0) += finding.probability;
    }
    odds
}

/// The cylinder with the highest probability over all causes, from 1; `None` where none reaches [`SUSPECT`].
fn suspect(findings: &[Finding]) -> Option<u8> {
    let mut odds: BTreeMap<u8, f64> = BTreeMap::new();
    for finding in findings {
        if let Some(cylinder) = finding.cylinder {
            *odds.entry(cylinder).or_insert(0.0) += finding.probability;
        }
    }
    let most = odds.into_iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
    (most.1 >= SUSPECT).then_some(most.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{caution::wanted_by, series::label::region::ByRegion};

    /// A check that always separates two equally probable causes is worth exactly one bit; one that separates nothing
    /// is worth none.
    #[test]
    fn bits_are_those_of_a_coin() {
        let table = |wet: &str| {
            let text = format!(
                "[[check]]\nid = \"x\"\nhow = \"x\"\nminutes = 1\ncautions = []\n\
                 [[check.outcomes]]\nsays = \"yes\"\notherwise = 0.0\nchance = {{ {wet} }}\n\
                 [[check.outcomes]]\nsays = \"no\"\notherwise = 1.0\nchance = {{ purge_stuck = 0.0 }}\n"
            );
            Checks::from_toml(&text).unwrap()
        };
        let odds = BTreeMap::from([(Cause::PurgeStuck, 0.5), (Cause::FuelBlend, 0.5)]);
        let sure = table("purge_stuck = 1.0");
        assert!((sure.check[0].bits(&odds) - 1.0).abs() < 1e-9);
        let blind = table("purge_stuck = 1.0, fuel_blend = 1e12");
        assert!(blind.check[0].bits(&odds) < 1e-9);
    }

    /// Bayes by hand: odds of 1 : 1 and an outcome nine times as probable under one cause give 0.9 and 0.1.
    #[test]
    fn an_outcome_moves_the_odds_by_its_chances_and_is_not_asked_for_again() {
        let table = "[[check]]\nid = \"pinch\"\nhow = \"x\"\nminutes = 6\ncautions = []\n\
             [[check.outcomes]]\nsays = \"jumps back\"\notherwise = 0.1\nchance = { purge_stuck = 0.9 }\n\
             [[check.outcomes]]\nsays = \"stays\"\notherwise = 0.9\nchance = { purge_stuck = 0.1 }\n";
        let checks = Checks::from_toml(table).unwrap();
        let finding = |cause| Finding {
            cause,
            cylinder: None,
            bank: None,
            probability: 0.5,
            severity: None,
            second_cause: None,
            evidence: Vec::new(),
        };
        let before = [finding(Cause::FuelBlend), finding(Cause::PurgeStuck)];
        let after = checks.after(&before, "pinch", 0).unwrap();
        assert_eq!(after[0].cause, Cause::PurgeStuck);
        assert!((after[0].probability - 0.9).abs() < 1e-12);
        assert!((after[1].probability - 0.1).abs() < 1e-12);
        // nine times as probable as on a sound car
        assert_eq!(
            after[0].evidence[0].fact,
            Fact::CheckOutcome("jumps back".to_owned())
        );
        assert!((after[0].evidence[0].log_odds - 9_f64.ln()).abs() < 1e-12);
        assert!(checks.after(&before, "pinch", 2).is_none());
        assert!(checks.after(&before, "nip", 0).is_none());
        let mut circumstances = Circumstances::default();
        assert_eq!(checks.rank(&after, &circumstances).len(), 1);
        circumstances.done.push("pinch".to_owned());
        assert_eq!(checks.rank(&after, &circumstances), Vec::new());
    }

    fn standard() -> Checks {
        Checks::from_toml(include_str!("checks.toml")).unwrap()
    }

    /// Every fault has a check that mostly shows it, and no outcome exceeds the line it is printed on.
    #[test]
    fn every_cause_has_a_check_that_settles_it() {
        let checks = standard();
        // an outcome that is rare otherwise
        let telling = |outcome: &&Outcome| outcome.otherwise <= 0.1;
        let settles = |cause: Cause| {
            let outcomes = checks.check.iter().flat_map(|check| &check.outcomes);
            let mut chances = outcomes
                .filter(telling)
                .filter_map(|o| o.chance.get(&cause));
            chances.any(|chance| *chance >= 0.6)
        };
        for cause in Cause::ALL {
            assert!(cause == Cause::NoneFound || settles(cause), "{cause}");
        }
        for check in &checks.check {
            let plain =
                |outcome: &Outcome| !outcome.says.contains("; ") && outcome.says.contains(": ");
            assert!(check.outcomes.iter().all(plain), "{}", check.id);
        }
    }

    #[test]
    fn a_check_is_advised_only_where_it_can_be_made() {
        let checks = standard();
        let makes_sense = |id: &str, circumstances: &Circumstances, suspect: Option<u8>| {
            let check = checks.check.iter().find(|check| check.id == id).unwrap();
            check.makes_sense(circumstances, suspect)
        };
        let port = Circumstances {
            banks: 1,
            ..Circumstances::default()
        };
        let direct = Circumstances {
            direct: true,
            counters: true,
            without_maf_sensor: true,
            ..port.clone()
        };
        for (id, on_port, on_direct) in [
            ("power_balance", true, false),
            ("counters_again", false, true),
            ("pressure_drop", true, false),
            ("swap_injector", true, false),
            ("unplug_air_meter", true, false),
            ("back_pressure", false, false),
        ] {
            assert_eq!(makes_sense(id, &port, Some(2)), on_port, "{id}");
            assert_eq!(makes_sense(id, &direct, Some(2)), on_direct, "{id}");
        }
        assert!(!makes_sense("swap_injector", &port, None));
        let long = Circumstances {
            seconds: ByRegion::from_fn(|_| 300.0),
            ..direct
        };
        assert!(!makes_sense("counters_again", &long, None));
    }

    /// Minutes of running or driving would overheat the catalyst: only checks at rest or within moments remain.
    #[test]
    fn under_heavy_misfire_nobody_is_sent_to_run_the_engine_for_long() {
        let checks = standard();
        let heavy = Circumstances {
            counters: true,
            heavy_misfire: true,
            ..Circumstances::default()
        };
        for check in &checks.check {
            let runs_long = check.region.is_some() || check.id == "counters_again";
            assert!(
                !(runs_long && check.makes_sense(&heavy, Some(2))),
                "{}",
                check.id
            );
        }
        let swap = checks.check.iter().find(|check| check.id == "swap_coil");
        assert!(swap.unwrap().makes_sense(&heavy, Some(2)));
    }

    /// A step is read alone, by somebody under a car: it carries the dangers of what it asks for.
    #[test]
    fn every_check_carries_the_cautions_of_what_it_asks_for() {
        let mut asked = 0;
        for check in &standard().check {
            for direct in [false, true] {
                let how = check.how_for(Some(1), direct);
                for caution in wanted_by(&how) {
                    asked += 1;
                    assert!(
                        check.cautions.contains(&caution),
                        "{}: {caution:?}",
                        check.id
                    );
                }
            }
        }
        assert!(asked > 60, "{asked}");
    }

    /// The driver of a direct injector works at high voltage: no test light, and no plug is pulled while it runs.
    #[test]
    fn direct_injection_is_checked_in_its_own_way() {
        let checks = standard();
        let how = |id: &str, direct: bool| {
            let check = checks.check.iter().find(|check| check.id == id).unwrap();
            check.how_for(Some(1), direct)
        };
        assert!(how("click_and_pulse", false).contains("test light or scope"));
        assert!(how("click_and_pulse", true).contains("no test light"));
        assert!(how("power_balance", true).contains("never unplug"));
        assert!(how("swap_coil", true).contains("cylinder 1"));
    }
}
