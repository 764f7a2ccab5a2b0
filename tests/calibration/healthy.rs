//! Healthy cars: how often an injector is accused, and how far they wander from trip to trip.

use pintle::{
    cause::Cause,
    series::{label::region::Region, summary::Summary},
};

use crate::{
    case::Case,
    confusion::share,
    verdict::{Verdict, leading},
};

pub fn print(cases: &[Case], verdicts: &[Verdict]) {
    let healthy: Vec<&Verdict> = verdicts
        .iter()
        .filter(|v| v.truth == Cause::NoneFound)
        .collect();
    if healthy.is_empty() {
        return;
    }
    let injector = healthy.iter().map(|v| v.diagnosis.injector_probability());
    println!(
        "\nhealthy cars: {:.3} called an injector fault (leading and above 0.5), mean injector \
         probability {:.3}, {:.3} with nothing found leading",
        share(healthy.iter().map(|v| is_accused(v))),
        injector.sum::<f64>() / healthy.len() as f64,
        share(healthy.iter().map(|v| leading(&v.reported) == 0)),
    );
    wander(
        cases
            .iter()
            .filter(|case| case.causes == [Cause::NoneFound]),
    );
}

/// Whether an injector fault leads, more probable than everything else together.
pub fn is_accused(verdict: &Verdict) -> bool {
    let first = leading(&verdict.reported);
    Cause::ALL[first].is_injector() && verdict.reported[first] > 0.5
}

/// Spread between trips of one car, beside that of the one real car that was measured (129 trips): 2.0 points in a region,
/// 1.1 points of idle minus cruise.
fn wander<'a>(healthy: impl Iterator<Item = &'a Case> + Clone) {
    let idle = |summary: &Summary| mean(summary, Region::WarmIdle);
    let cruise = |summary: &Summary| mean(summary, Region::LightCruise);
    let contrast = |summary: &Summary| Some(idle(summary)? - cruise(summary)?);
    println!(
        "healthy cars from trip to trip: idle {:.1}, cruise {:.1}, idle minus cruise {:.1} points \
         (a real car: 2.0, 2.0, 1.1)",
        spread(healthy.clone(), idle),
        spread(healthy.clone(), cruise),
        spread(healthy, contrast)
    );
}

/// Mean correction of bank 1 where a minute or more counted, points.
fn mean(summary: &Summary, region: Region) -> Option<f64> {
    let mut trims = summary.trims.iter();
    let trim = trims.find(|trim| (trim.bank, trim.region) == (1, region))?;
    (trim.seconds >= 60.0).then_some(100.0 * trim.mean_log)
}

/// Standard deviation of one trip, from differences between the first two of a car.
fn spread<'a>(
    cases: impl Iterator<Item = &'a Case>,
    value: impl Fn(&Summary) -> Option<f64>,
) -> f64 {
    let difference = |case: &Case| match &case.summaries[..] {
        [first, second, ..] => Some(value(first)? - value(second)?),
        _ => None,
    };
    let squares: Vec<f64> = cases.filter_map(difference).map(|d| d * d / 2.0).collect();
    (squares.iter().sum::<f64>() / squares.len() as f64).sqrt()
}
