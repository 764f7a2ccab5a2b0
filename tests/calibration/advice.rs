//! Whether following the advised checks is quicker than a fixed textbook order.

use pintle::{
    cause::Cause,
    diagnose::{
        Checks, Circumstances,
        diagnosis::{Diagnosis, Finding},
    },
    series::label::region::Region,
};

use crate::{case::Case, confusion::share, dice::Dice, outcomes, verdict::Verdict};

/// Sure enough to act.
const CERTAIN: f64 = 0.90;

/// Nobody records again what was recorded for so long, s.
const RECORDED_S: f64 = 120.0;

/// From easy and common to laborious and rare, as the trade's texts go through them (common practice).
const TEXTBOOK: [&str; 18] = [
    "click_and_pulse",
    "swap_coil",
    "power_balance",
    "smoke_intake",
    "hold_2500",
    "fuel_sample",
    "pinch_purge",
    "air_meter_at_idle",
    "rail_pressure",
    "coil_resistance",
    "pressure_drop",
    "compression",
    "exhaust_leak_check",
    "record_idle",
    "record_cruise",
    "load_test",
    "back_pressure",
    "another_trip",
];

pub fn print(cases: &[Case], verdicts: &[Verdict], checks: &Checks) {
    println!(
        "\nminutes of checks until {:.0} % certain or all done; right then; share that became certain",
        100.0 * CERTAIN
    );
    let faults = |index: usize| cases[index].causes[0] != Cause::NoneFound;
    for (name, meant) in [
        ("all", &(|_: usize| true) as &dyn Fn(usize) -> bool),
        ("faults", &faults),
        ("visible faults", &|index| {
            faults(index) && verdicts[index].visible
        }),
    ] {
        let meant: Vec<usize> = (0..cases.len()).filter(|i| meant(*i)).collect();
        if meant.is_empty() {
            continue;
        }
        for (way, advised) in [("as advised", true), ("textbook order", false)] {
            let job = |index: &usize| {
                let mut dice = Dice::new(*index as u64);
                Job::new(&verdicts[*index].diagnosis).done(
                    &verdicts[*index],
                    checks,
                    advised,
                    &mut dice,
                )
            };
            let jobs: Vec<Done> = meant.iter().map(job).collect();
            let mut minutes: Vec<f64> = jobs.iter().map(|done| done.minutes).collect();
            minutes.sort_by(f64::total_cmp);
            println!(
                "{name:16}{way:16} mean {:>5.0}  median {:>5.0}  right {:.2}  certain {:.2}",
                minutes.iter().sum::<f64>() / minutes.len() as f64,
                minutes[minutes.len() / 2],
                share(jobs.iter().map(|done| done.right)),
                share(jobs.iter().map(|done| done.certain)),
            );
        }
    }
}

struct Job {
    findings: Vec<Finding>,
    circumstances: Circumstances,
}

struct Done {
    minutes: f64,
    right: bool,
    certain: bool,
}

impl Job {
    fn new(diagnosis: &Diagnosis) -> Self {
        Self {
            findings: diagnosis.causes.clone(),
            circumstances: diagnosis.circumstances.clone(),
        }
    }

    fn done(mut self, verdict: &Verdict, checks: &Checks, advised: bool, dice: &mut Dice) -> Done {
        let truth = verdict.truth;
        let mut minutes = 0.0;
        while self.leading().1 < CERTAIN {
            let next = if advised {
                self.advised(checks)
            } else {
                self.textbook()
            };
            let Some(check) = next else { break };
            minutes += checks.minutes(&check).unwrap();
            let chances = outcomes::chances(&check, truth, verdict.visible).unwrap();
            let choices: Vec<(f64, usize)> = chances.into_iter().zip(0..).collect();
            let outcome = dice.weighed(&choices);
            self.findings = checks.after(&self.findings, &check, outcome).unwrap();
            self.circumstances.done.push(check);
        }
        let (cause, odds) = self.leading();
        Done {
            minutes,
            right: cause == truth,
            certain: odds >= CERTAIN,
        }
    }

    fn leading(&self) -> (Cause, f64) {
        let odds = Cause::ALL.map(|cause| {
            let same = self
                .findings
                .iter()
                .filter(|finding| finding.cause == cause);
            (cause, same.map(|finding| finding.probability).sum::<f64>())
        });
        let most = odds.into_iter().max_by(|a, b| a.1.total_cmp(&b.1));
        most.unwrap()
    }

    fn advised(&self, checks: &Checks) -> Option<String> {
        let ranked = checks.rank(&self.findings, &self.circumstances);
        ranked.into_iter().next().map(|next| next.check)
    }

    fn textbook(&self) -> Option<String> {
        let here = &self.circumstances;
        let fits = |check: &&str| match *check {
            "back_pressure" => here.banks > 1,
            "pressure_drop" => !here.direct,
            "power_balance" => !here.counters,
            "swap_coil" => here.counters,
            "record_idle" => here.seconds[Region::WarmIdle] < RECORDED_S,
            "hold_2500" => here.seconds[Region::RaisedIdle] < RECORDED_S,
            "record_cruise" => here.seconds[Region::LightCruise] < RECORDED_S,
            "load_test" => here.seconds[Region::Loaded] < RECORDED_S,
            _ => true,
        };
        let open = |check: &&str| !here.done.iter().any(|done| done == check);
        TEXTBOOK
            .into_iter()
            .filter(fits)
            .find(open)
            .map(str::to_owned)
    }
}
