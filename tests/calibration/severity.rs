//! How often the interval told for a cause's size holds the truth, and from which size on a cause can be seen and is found.

use pintle::cause::Cause;

use crate::{
    confusion::share,
    faults,
    verdict::{Verdict, leading},
};

/// Steps of equal ratio from the smallest to the largest size drawn.
const STEPS: usize = 6;

pub fn print(verdicts: &[Verdict]) {
    println!(
        "\nsize: 90 % interval holds the truth (all; leading). By size: share visible / leading, of the visible / leading, of \
         all. From which size on half of the cases are visible, and half and 80 % of the visible ones are found"
    );
    for cause in Cause::ALL {
        let own: Vec<&Verdict> = verdicts.iter().filter(|v| v.truth == cause).collect();
        let (Some([low, high]), false) = (faults::sizes(cause), own.is_empty()) else {
            continue;
        };
        let led: Vec<&Verdict> = own.iter().copied().filter(|v| is_led(v)).collect();
        let held = |some: &[&Verdict]| share(some.iter().filter_map(|v| v.interval));
        let edge = |step: usize| low * (high / low).powf(step as f64 / STEPS as f64);
        let inside = |step: usize| {
            let meant = |v: &&&Verdict| {
                let size = v.severity.unwrap_or(0.0);
                (edge(step)..=edge(step + 1)).contains(&size)
            };
            own.iter().filter(meant).copied().collect::<Vec<&Verdict>>()
        };
        let steps: Vec<Step> = (0..STEPS).map(|step| Step::of(&inside(step))).collect();
        let from = |least: f64, value: fn(&Step) -> f64| {
            let lasting = |step: &usize| steps[*step..].iter().all(|step| value(step) >= least);
            let from = (0..STEPS).find(lasting).map(|step| shown(edge(step)));
            from.unwrap_or_else(|| "-".to_owned())
        };
        let by_size = steps.iter().enumerate().map(|(index, step)| {
            let size = shown(edge(index));
            format!(
                "{size}+ {:.2}/{:.2}/{:.2}",
                step.visible, step.found, step.found_of_all
            )
        });
        println!(
            "{:28} {:.2} {:.2}  visible from {}, found from {}, surely from {} {}\n    {}",
            cause.id(),
            held(&own),
            held(&led),
            from(0.5, |step| step.visible),
            from(0.5, |step| step.found),
            from(0.8, |step| step.found),
            cause
                .severity_quantity()
                .map_or("", |quantity| quantity.id()),
            by_size.collect::<Vec<_>>().join(", "),
        );
    }
}

/// Cases of about one size.
struct Step {
    visible: f64,
    /// Leading, among the visible ones and among all.
    found: f64,
    found_of_all: f64,
}

impl Step {
    fn of(some: &[&Verdict]) -> Self {
        let visible = some.iter().filter(|v| v.visible);
        Self {
            visible: share(some.iter().map(|v| v.visible)),
            found: share(visible.map(|v| is_led(v))),
            found_of_all: share(some.iter().map(|v| is_led(v))),
        }
    }
}

fn is_led(verdict: &Verdict) -> bool {
    leading(&verdict.reported) == verdict.truth as usize
}

/// Two digits that matter.
fn shown(size: f64) -> String {
    let decimals = (1.0 - size.log10().floor()).max(0.0) as usize;
    format!("{size:.decimals$}")
}
