//! Examines the judgement on drawn cars, drivers and faults, wider and harder than it assumes.
//!
//! `cargo bench --bench calibration [-- cases=200 seed=1 cause=intake_leak plan=whole_sheet features=FILE]`: so many cases
//! of every cause (40 unless told otherwise), or of one (with `show=cases` case by case); by the port alone and with bench
//! readings, or only by one plan. Drawn cases stay below `target/`; a second run only judges.
#![allow(
    missing_docs,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::print_stdout,
    clippy::unwrap_used
)]

mod advice;
mod arguments;
mod cars;
mod case;
mod confusion;
mod dice;
mod drivers;
mod faults;
mod features;
mod healthy;
mod loggers;
mod outcomes;
mod pairs;
mod parallel;
mod plans;
mod reliability;
mod scores;
mod severity;
mod sheets;
mod show;
mod store;
mod tank;
mod verdict;
mod visible;
mod watch;

use std::time::Instant;

use pintle::{cause::Cause, diagnose::Tables};

use plans::Judged;
use sheets::Plan;
use verdict::Verdict;
use visible::Healthy;

struct Arguments {
    cases: usize,
    seed: u64,
    cause: Option<Cause>,
    features: Option<String>,
    show: bool,
    plan: Option<Plan>,
}

fn main() {
    let arguments = arguments();
    let tables = Tables::standard().unwrap();
    let meant = |cause: &Cause| arguments.cause.is_none_or(|only| only == *cause);
    let start = Instant::now();
    let (mut cases, mut drawn, mut simulated_s) = (Vec::new(), 0, 0.0);
    for cause in Cause::ALL.into_iter().filter(meant) {
        let (some, new) = store::cases(&[cause], arguments.cases, arguments.seed);
        let newest = &some[some.len() - new..];
        simulated_s += newest.iter().map(|case| case.simulated_s).sum::<f64>();
        drawn += new;
        cases.extend(some);
    }
    println!(
        "{} cases, {drawn} drawn now ({:.0} simulated hours), {:.1} s",
        cases.len(),
        simulated_s / 3600.0,
        start.elapsed().as_secs_f64()
    );

    let (sound, _) = store::cases(&[Cause::NoneFound], arguments.cases, arguments.seed);
    let sound = Healthy::measured(&sound);
    let start = Instant::now();
    let sheet = |plan: Plan, index: usize| {
        let of_cause = (index % arguments.cases) as u64;
        sheets::draw(plan, &cases[index].causes, of_cause, arguments.seed)
    };
    let judge = |plan: Plan, index: usize| {
        let sheet = sheet(plan, index);
        verdict::judge(&cases[index], sheet.as_ref(), &sound, &tables)
    };
    let plans = arguments.plan.map_or(Plan::ALL.to_vec(), |only| vec![only]);
    let by_plan = plans.iter().map(|plan| {
        // beside the port, half of the cases will do
        let every = match *plan == plans[0] {
            true => 1,
            false => 2,
        };
        let of_cause = |index: &usize| index % arguments.cases;
        let meant: Vec<usize> = (0..cases.len())
            .filter(|index| of_cause(index) % every == 0)
            .collect();
        Judged {
            plan: *plan,
            verdicts: store::in_parallel(meant.len(), |place| judge(*plan, meant[place])),
            cases: meant,
        }
    });
    let judged: Vec<Judged> = by_plan.collect();
    let seconds = start.elapsed().as_secs_f64();
    println!(
        "judged {:.0} cases a second on {} cores",
        judged.iter().map(|one| one.cases.len()).sum::<usize>() as f64 / seconds,
        std::thread::available_parallelism().map_or(1, usize::from)
    );
    let verdicts = &judged[0].verdicts;
    if let Some(cause) = arguments.cause.filter(|_| arguments.show) {
        let sheet = |index: usize| sheet(judged[0].plan, index);
        return show::print(cause, &cases, verdicts, sheet);
    }
    if arguments.plan.is_some() {
        return plans::print(&cases, &judged, &tables.priors);
    }
    sound.print();
    confusion::print(verdicts);
    scores::print(verdicts, &tables.priors);
    reliability::print(verdicts, &tables.priors);
    severity::print(verdicts);
    healthy::print(&cases, verdicts);
    plans::print(&cases, &judged, &tables.priors);
    advice::print(&cases, verdicts, &tables.checks);
    if let Some(path) = &arguments.features {
        features::write(path, &cases, verdicts, &tables.priors);
    }
    if arguments.cause.is_none() {
        pairs::print(&two_faults(&arguments, &sound, &tables));
    }
}

/// Cars with two faults at once, judged.
fn two_faults(
    arguments: &Arguments,
    sound: &Healthy,
    tables: &Tables,
) -> Vec<(String, Vec<Verdict>)> {
    let judged = |causes: [Cause; 2]| {
        let (cases, _) = store::cases(&causes, arguments.cases, arguments.seed);
        let judge = |index: usize| verdict::judge(&cases[index], None, sound, tables);
        let name = format!("{} and {}", causes[0], causes[1]);
        (name, store::in_parallel(cases.len(), judge))
    };
    faults::PAIRS.into_iter().map(judged).collect()
}

fn arguments() -> Arguments {
    let mut arguments = Arguments {
        cases: 40,
        seed: 1,
        cause: None,
        features: None,
        show: false,
        plan: None,
    };
    let expected = "cases=, seed=, cause=, plan=, show=cases or features=";
    arguments::take_each(expected, |name, value| {
        match (name, value) {
            ("cases", number) => arguments.cases = number.parse().unwrap(),
            ("seed", number) => arguments.seed = number.parse().unwrap(),
            ("cause", id) => arguments.cause = Some(id.parse().unwrap()),
            ("plan", id) => {
                let known = Plan::ALL.into_iter().find(|plan| plan.id() == id);
                arguments.plan = Some(known.unwrap());
            }
            ("show", "cases") => arguments.show = true,
            ("features", path) => arguments.features = Some(path.to_owned()),
            _ => return false,
        }
        true
    });
    arguments
}
