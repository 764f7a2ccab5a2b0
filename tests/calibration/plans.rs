//! How far bench readings bring the judgement: the same cars by the port alone, with some readings, with a whole sheet.

use pintle::{cause::Cause, diagnose::Priors};

use crate::{
    case::Case,
    confusion::share,
    healthy, reliability,
    scores::log_loss,
    sheets::Plan,
    verdict::{Verdict, leading},
};

/// The verdicts by one plan.
pub struct Judged {
    pub plan: Plan,
    /// Which cases.
    pub cases: Vec<usize>,
    pub verdicts: Vec<Verdict>,
}

/// Those cases that every plan has judged.
struct Common<'a> {
    name: String,
    verdicts: Vec<&'a Verdict>,
}

pub fn print<'a>(cases: &[Case], judged: &'a [Judged], priors: &Priors) {
    let everywhere = |case: &usize| judged.iter().all(|one| one.cases.contains(case));
    let common = |one: &'a Judged, name: &str, meant: &dyn Fn(&Case) -> bool| {
        let pairs = one.cases.iter().zip(&one.verdicts);
        let pairs = pairs.filter(|(case, _)| everywhere(case) && meant(&cases[**case]));
        Common {
            name: format!("{}{name}", one.plan.id()),
            verdicts: pairs.map(|(_, verdict)| verdict).collect(),
        }
    };
    let mut rows: Vec<Common<'_>> = judged
        .iter()
        .map(|one| common(one, "", &|_| true))
        .collect();
    let columns = rows.len();
    // a gauge tells most beside a range
    let stated = |case: &Case| case.vehicle.rail_kpa.is_some();
    rows.extend(
        judged
            .last()
            .map(|one| common(one, ", ranges stated", &stated)),
    );
    let judged = rows.as_slice();

    println!(
        "\nwith bench readings: top-1, top-3, log loss; odds as told, and every cause as common as drawn"
    );
    println!(
        "{:28}{:>24}{:>24}{:>24}{:>24}",
        "", "all", "as drawn", "visible faults", "as drawn"
    );
    for one in judged {
        let even = |v: &Verdict| v.with_even_priors(priors);
        let all = &one.verdicts;
        let faults = |v: &&&Verdict| v.truth != Cause::NoneFound && v.visible;
        let visible: Vec<&Verdict> = all.iter().filter(faults).copied().collect();
        println!(
            "{:28}{:>24}{:>24}{:>24}{:>24}",
            one.name,
            three(all, |v| v.reported),
            three(all, even),
            three(&visible, |v| v.reported),
            three(&visible, even),
        );
    }
    println!(
        "\ncalibration error in points beside what chance alone makes, causes as common as prior.toml says, as drawn with even priors; said/right (percent of the cases)"
    );
    for one in judged {
        let usual = reliability::weighed_as_usual(&one.verdicts, priors);
        let reported = reliability::measured(&one.verdicts, &usual, |v| v.reported);
        let alike = vec![1.0; one.verdicts.len()];
        let even = reliability::measured(&one.verdicts, &alike, |v| v.with_even_priors(priors));
        let steps = reported.steps.iter().map(|step| {
            format!(
                "{:.2}/{:.2} ({:.0})",
                step.said,
                step.right,
                100.0 * step.share
            )
        });
        println!(
            "{:28}{:<28}{:<28}{}",
            one.name,
            reported.points(),
            even.points(),
            steps.collect::<Vec<_>>().join(" ")
        );
    }
    println!(
        "\nhealthy cars accused of an injector, their mean injector probability, nothing found leads; right cylinder or bank when right; 90 % interval of the size holds the truth (all; leading)"
    );
    for one in judged {
        let healthy: Vec<&Verdict> = one
            .verdicts
            .iter()
            .copied()
            .filter(|v| v.truth == Cause::NoneFound)
            .collect();
        let mean = healthy
            .iter()
            .map(|v| v.diagnosis.injector_probability())
            .sum::<f64>()
            / healthy.len() as f64;
        let led: Vec<&Verdict> = one.verdicts.iter().copied().filter(|v| is_led(v)).collect();
        println!(
            "{:28}{:>6.3}{mean:>6.3}{:>6.2}  {:.3}  {:.2} {:.2}",
            one.name,
            share(healthy.iter().map(|v| healthy::is_accused(v))),
            share(healthy.iter().map(|v| leading(&v.reported) == 0)),
            share(led.iter().filter_map(|v| v.right_place)),
            share(one.verdicts.iter().filter_map(|v| v.interval)),
            share(led.iter().filter_map(|v| v.interval)),
        );
    }
    println!(
        "\nright cause leads, of all / of the visible; right place when right; interval holds; and what leads most often instead"
    );
    for cause in Cause::ALL {
        let cells = judged
            .iter()
            .take(columns)
            .map(|one| cell(&one.verdicts, cause));
        println!(
            "{:28} {}",
            cause.id(),
            cells.collect::<Vec<_>>().join("   ")
        );
    }
}

fn three(verdicts: &[&Verdict], odds: impl Fn(&Verdict) -> [f64; 18]) -> String {
    let ranks: Vec<usize> = verdicts.iter().map(|v| v.rank(&odds(v))).collect();
    format!(
        "{:.3} {:.3} {:.3}",
        share(ranks.iter().map(|rank| *rank == 0)),
        share(ranks.iter().map(|rank| *rank < 3)),
        log_loss(verdicts, &odds)
    )
}

fn cell(verdicts: &[&Verdict], cause: Cause) -> String {
    let own: Vec<&Verdict> = verdicts
        .iter()
        .copied()
        .filter(|v| v.truth == cause)
        .collect();
    let led: Vec<&Verdict> = own.iter().copied().filter(|v| is_led(v)).collect();
    let mut instead = [0; 18];
    for verdict in own.iter().filter(|v| !is_led(v)) {
        instead[leading(&verdict.reported)] += 1;
    }
    let most = (0..18).max_by_key(|index| instead[*index]).unwrap_or(0);
    format!(
        "{:.2}/{:.2} {:4.2} {:4.2} {:>2} {:<10.10}",
        share(own.iter().map(|v| is_led(v))),
        share(own.iter().filter(|v| v.visible).map(|v| is_led(v))),
        share(led.iter().filter_map(|v| v.right_place)),
        share(own.iter().filter_map(|v| v.interval)),
        instead[most],
        Cause::ALL[most].id(),
    )
}

fn is_led(verdict: &Verdict) -> bool {
    leading(&verdict.reported) == verdict.truth as usize
}
