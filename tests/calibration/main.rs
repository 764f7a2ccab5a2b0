//! Examines the judgement on drawn cars, drivers and faults, wider and harder than it assumes; and on visits to the workshop.
//!
//! `cargo bench --bench calibration [-- cases=200 seed=1 drawn=visit cause=intake_leak plan=whole_sheet features=FILE]`: so
//! many cases of every cause (40 unless told otherwise), or of one (with `show=cases` case by case); by the port alone and
//! with bench readings, or only by one plan; of any cars and then of visits in short, or of one of the two. Drawn cases stay
//! below `target/`; a second run only judges.
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
mod occasion;
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

use pintle::{bench::Readings, cause::Cause, diagnose::Tables};

use case::Case;
use occasion::Occasion;
use pairs::Pair;
use plans::Judged;
use sheets::Plan;
use verdict::Verdict;
use visible::Healthy;

struct Arguments {
    cases: usize,
    seed: u64,
    drawn: Option<Occasion>,
    cause: Option<Cause>,
    features: Option<String>,
    show: bool,
    plan: Option<Plan>,
}

fn main() {
    let arguments = arguments();
    let tables = Tables::standard().unwrap();
    let occasions = arguments
        .drawn
        .map_or(Occasion::ALL.to_vec(), |only| vec![only]);
    for (place, occasion) in occasions.into_iter().enumerate() {
        println!("\n== drawn: {}", occasion.id());
        let drawn = Drawn::new(occasion, &arguments);
        let judged = drawn.judged(&arguments, &tables);
        let verdicts = &judged[0].verdicts;
        if let Some(cause) = arguments.cause.filter(|_| arguments.show) {
            let sheet = |index: usize| drawn.sheet(judged[0].plan, index, &arguments);
            show::print(cause, &drawn.cases, verdicts, sheet);
        } else if arguments.plan.is_some() || place > 0 {
            plans::print(&drawn.cases, &judged, &tables.priors);
        } else {
            drawn.print(verdicts, &judged, &tables);
            if let Some(path) = &arguments.features {
                features::write(path, &drawn.cases, verdicts, &tables.priors);
            }
            if arguments.cause.is_none() {
                pairs::print(&drawn.two_faults(&arguments, &tables));
            }
        }
    }
}

/// What was drawn on one occasion.
struct Drawn {
    occasion: Occasion,
    cases: Vec<Case>,
    sound: Healthy,
}

impl Drawn {
    fn new(occasion: Occasion, arguments: &Arguments) -> Self {
        let (count, seed) = (arguments.cases, arguments.seed);
        let meant = |cause: &Cause| arguments.cause.is_none_or(|only| only == *cause);
        let start = Instant::now();
        let (mut cases, mut drawn, mut simulated_s) = (Vec::new(), 0, 0.0);
        for cause in Cause::ALL.into_iter().filter(meant) {
            let (some, new) = store::cases(occasion, &[cause], count, seed);
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
        let (sound, _) = store::cases(occasion, &[Cause::NoneFound], count, seed);
        Self {
            occasion,
            cases,
            sound: Healthy::measured(&sound),
        }
    }

    /// What was read by hand of a car.
    fn sheet(&self, plan: Plan, index: usize, arguments: &Arguments) -> Option<Readings> {
        let of_cause = (index % arguments.cases) as u64;
        let causes = &self.cases[index].causes;
        sheets::draw(plan, self.occasion, causes, of_cause, arguments.seed)
    }

    /// The cases judged by every plan; beside the first, half of them will do.
    fn judged(&self, arguments: &Arguments, tables: &Tables) -> Vec<Judged> {
        let start = Instant::now();
        let plans = arguments.plan.map_or(Plan::ALL.to_vec(), |only| vec![only]);
        let by_plan = plans.iter().map(|plan| {
            let every = if *plan == plans[0] { 1 } else { 2 };
            let meant = (0..self.cases.len())
                .filter(|index| (index % arguments.cases).is_multiple_of(every));
            let meant: Vec<usize> = meant.collect();
            let judge = |place: usize| {
                let index = meant[place];
                let sheet = self.sheet(*plan, index, arguments);
                verdict::judge(&self.cases[index], sheet.as_ref(), &self.sound, tables)
            };
            Judged {
                plan: *plan,
                verdicts: store::in_parallel(meant.len(), judge),
                cases: meant,
            }
        });
        let judged: Vec<Judged> = by_plan.collect();
        println!(
            "judged {:.0} cases a second on {} cores",
            judged.iter().map(|one| one.cases.len()).sum::<usize>() as f64
                / start.elapsed().as_secs_f64(),
            std::thread::available_parallelism().map_or(1, usize::from)
        );
        judged
    }

    fn print(&self, verdicts: &[Verdict], judged: &[Judged], tables: &Tables) {
        self.sound.print();
        confusion::print(verdicts);
        scores::print(verdicts, &tables.priors);
        reliability::print(verdicts, &tables.priors);
        severity::print(verdicts);
        healthy::print(&self.cases, verdicts);
        plans::print(&self.cases, judged, &tables.priors);
        advice::print(&self.cases, verdicts, &tables.checks);
    }

    /// Cars with two faults at once, judged by the port alone and with a whole sheet.
    fn two_faults(&self, arguments: &Arguments, tables: &Tables) -> Vec<Pair> {
        let (count, seed) = (arguments.cases, arguments.seed);
        let judged = |causes: [Cause; 2]| {
            let (cases, _) = store::cases(self.occasion, &causes, count, seed);
            let judge = |plan: Plan, index: usize| {
                let sheet = sheets::draw(plan, self.occasion, &causes, index as u64, seed);
                verdict::judge(&cases[index], sheet.as_ref(), &self.sound, tables)
            };
            let by = |plan: Plan| store::in_parallel(cases.len(), |index| judge(plan, index));
            Pair {
                name: format!("{} and {}", causes[0], causes[1]),
                by_port: by(Plan::PortAlone),
                with_sheet: by(Plan::WholeSheet),
            }
        };
        faults::PAIRS.into_iter().map(judged).collect()
    }
}

fn arguments() -> Arguments {
    let mut arguments = Arguments {
        cases: 40,
        seed: 1,
        drawn: None,
        cause: None,
        features: None,
        show: false,
        plan: None,
    };
    let expected = "cases=, seed=, drawn=, cause=, plan=, show=cases or features=";
    arguments::take_each(expected, |name, value| {
        match (name, value) {
            ("cases", number) => arguments.cases = number.parse().unwrap(),
            ("seed", number) => arguments.seed = number.parse().unwrap(),
            ("drawn", id) => {
                let known = Occasion::ALL.into_iter().find(|one| one.id() == id);
                arguments.drawn = Some(known.unwrap());
            }
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
