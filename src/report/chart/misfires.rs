//! Misfires in 1000 revolutions by cylinder, before and after.

use super::{
    Chart,
    rows::{Mark, Row, Rows},
};
use crate::diagnose::{Diagnosis, diagnosis::Counted};

/// The chart; `None` where no counters were read on either side.
pub fn chart(sides: [Option<&Diagnosis>; 2]) -> Chart {
    let counted = |side: Option<&Diagnosis>| -> Vec<(u8, Counted)> {
        let rates = side.into_iter().flat_map(|found| &found.misfires.cylinders);
        rates
            .filter_map(|rate| Some((rate.cylinder, rate.counted?)))
            .collect()
    };
    let sides = sides.map(counted);
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
            let (_, counted) = rates.iter().find(|(number, _)| number == cylinder)?;
            Some(Mark {
                value: counted.per_1000_rev,
                interval: Some([counted.low, counted.high]),
            })
        }),
    });
    let chart = Rows {
        id: "misfires",
        title: "Misfires by cylinder",
        axis: "misfires in 1000 revolutions",
        reference: (0.0, "none"),
        band: None,
        sides: ["before", "after"],
        rows: rows.collect(),
        number: |rate| format!("{rate:.2}"),
        note: "A misfire is a stroke in which the mixture did not burn, as the car's own counters tell. A few are no fault; one \
               cylinder that stands out is. Counted over whole drives; the lines are 95 % intervals.",
    };
    chart.figure()
}
