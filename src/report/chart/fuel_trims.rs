//! Chart of the total fuel trim by bank and region, before and after.

use super::{
    Chart,
    rows::{Mark, Row, Rows},
};
use crate::{
    diagnose::{Diagnosis, diagnosis::Trim},
    quantity::signed,
    series::label::region::Region,
};

/// The chart; `None` where no fuel trim counted on either side.
pub fn chart(sides: [Option<&Diagnosis>; 2]) -> Chart {
    let trims = |side: Option<&Diagnosis>| side.map_or_else(Vec::new, |found| found.trims.clone());
    let sides = sides.map(trims);
    let mut places: Vec<(u8, Region)> = sides
        .iter()
        .flatten()
        .map(|trim| (trim.bank, trim.region))
        .collect();
    places.sort_unstable();
    places.dedup();
    let banks = places.iter().map(|(bank, _)| *bank).max().unwrap_or(1);
    let rows = places.iter().map(|(bank, region)| Row {
        name: if banks > 1 {
            [region.words().to_owned(), format!("bank {bank}")]
        } else {
            [region.words().to_owned(), String::new()]
        },
        marks: sides.each_ref().map(|trims| {
            let here = |trim: &&Trim| (trim.bank, trim.region) == (*bank, *region);
            trims.iter().find(here).map(|trim| Mark {
                value: trim.mean_pct,
                interval: Some([trim.low_pct, trim.high_pct]),
            })
        }),
    });
    let chart = Rows {
        id: "corrections",
        title: "How much fuel the engine computer adds or takes away",
        axis: "total fuel trim, %",
        reference: (0.0, "no trim"),
        band: None,
        sides: ["before", "after"],
        rows: rows.collect(),
        number: signed,
        note: "Near zero the engine gets the fuel it expects. Plus: fuel is missing, or air comes in unmeasured, so \
             fuel is added. Minus: too much fuel. The lines are 95 % intervals within these trips; another trip of \
             the same car differs by about 2 points.",
    };
    chart.figure()
}
