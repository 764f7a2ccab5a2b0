//! Chart of misfires per 1000 revolutions by cylinder, before and after.

use super::{
    Chart,
    rows::{Mark, Row, Rows},
};
use crate::{
    compare::{Comparison, MisfireChange},
    diagnose::{Diagnosis, diagnosis::Counted},
    report::words::rate,
    statistics::poisson,
};

/// Confidence of the intervals, 0 to 1 (common practice).
const LEVEL: f64 = 0.95;

/// Misfires per 1000 revolutions, and the ends of their interval.
type Rate = (f64, [f64; 2]);

/// The chart of whole drives or, where there is a comparison, of the driving common to both sides, so that its numbers
/// are the comparison's; `None` where no counters were read on either side.
pub fn chart(sides: [Option<&Diagnosis>; 2], comparison: Option<&Comparison>) -> Chart {
    let whole = |side: Option<&Diagnosis>| -> Vec<(u8, Rate)> {
        let rates = side.into_iter().flat_map(|found| &found.misfires.cylinders);
        let of = |counted: Counted| (counted.per_1000_rev, [counted.low, counted.high]);
        rates
            .filter_map(|one| Some((one.cylinder, of(one.counted?))))
            .collect()
    };
    let shared = comparison.filter(|comparison| !comparison.misfires.is_empty());
    let (sides, counted_over) = match shared {
        Some(comparison) => (
            [0, 1].map(|side| shared_rates(comparison, side)),
            "Counted in driving conditions common to both recordings",
        ),
        None => (sides.map(whole), "Counted over whole drives"),
    };
    let mut cylinders: Vec<u8> = sides
        .iter()
        .flatten()
        .map(|(cylinder, _)| *cylinder)
        .collect();
    cylinders.sort_unstable();
    cylinders.dedup();
    let rows = cylinders.iter().map(|cylinder| Row {
        name: [format!("cylinder {cylinder}"), String::new()],
        marks: sides.each_ref().map(|rates| {
            let (_, (value, interval)) = rates.iter().find(|(number, _)| number == cylinder)?;
            Some(Mark {
                value: *value,
                interval: Some(*interval),
            })
        }),
    });
    let note = format!(
        "A misfire is a power stroke in which the mixture did not burn, counted by the car itself. A few are normal; one \
         cylinder that stands out is a fault. {counted_over}; the lines are 95 % intervals."
    );
    let chart = Rows {
        id: "misfires",
        title: "Misfires by cylinder",
        axis: "misfires per 1000 revolutions",
        reference: (0.0, "none"),
        band: None,
        sides: ["before", "after"],
        rows: rows.collect(),
        number: rate,
        note: &note,
    };
    chart.figure()
}

/// The rates of a side, 0 or 1, in the driving common to both sides.
fn shared_rates(comparison: &Comparison, side: usize) -> Vec<(u8, Rate)> {
    let of_cylinder = |one: &MisfireChange| {
        let per_1000 = [one.before_per_1000_rev, one.after_per_1000_rev];
        let per_1000 = *per_1000.get(side)?;
        let thousands = one.revolutions.get(side)? / 1000.0;
        let dispersion = *one.dispersions.get(side)?;
        let (low, high) = poisson::mean_interval(per_1000 * thousands, dispersion, LEVEL)?;
        (thousands > 0.0).then_some((
            one.cylinder,
            (per_1000, [low / thousands, high / thousands]),
        ))
    };
    comparison.misfires.iter().filter_map(of_cylinder).collect()
}
