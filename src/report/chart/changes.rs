//! Chart of the changes by bank and region: after minus before, with their intervals.

use super::{
    Chart,
    rows::{Band, Mark, Row, Rows},
};
use crate::{
    compare::{Change, Comparison},
    quantity::signed,
    report::comparison::RELATIVE_TO_BANK,
};

/// The chart; `None` where nothing could be matched.
pub fn chart(comparison: &Comparison) -> Chart {
    let several = comparison.trims.len() > 1;
    let mut rows = Vec::new();
    for trim in &comparison.trims {
        let bank = format!("bank {}", trim.bank);
        let whole = if several {
            bank.clone()
        } else {
            "all together".to_owned()
        };
        rows.push(row([whole, String::new()], &trim.change));
        let own = comparison
            .regions
            .iter()
            .filter(|region| region.bank == trim.bank);
        let more = if several { bank } else { String::new() };
        rows.extend(own.map(|one| row([one.region.words().to_owned(), more.clone()], &one.change)));
    }
    for bank in &comparison.banks {
        rows.push(row(
            [
                "bank 1".to_owned(),
                format!("relative to bank {}", bank.other),
            ],
            &bank.change,
        ));
    }
    if let Some(change) = &comparison.standing_against_driving {
        rows.push(row(["idle".to_owned(), "minus driving".to_owned()], change));
    }
    let limit = comparison.limits.trim_points;
    let note = "Only engine speeds and loads common to both recordings are compared. Minus: less fuel is added than before.";
    let note = if comparison.banks.is_empty() {
        note.to_owned()
    } else {
        format!("{note} {RELATIVE_TO_BANK}")
    };
    let chart = Rows {
        id: "changes",
        title: "What changed, in the same driving conditions",
        axis: "change of total fuel trim, points",
        reference: (0.0, "no change"),
        band: Some(Band {
            ends: [-limit, limit],
            meaning: format!("too small to matter ({limit} points)"),
        }),
        sides: ["", "after minus before"],
        rows,
        number: signed,
        note: &note,
    };
    chart.figure()
}

fn row(name: [String; 2], change: &Change) -> Row {
    let mark = Mark {
        value: change.written_difference(),
        interval: Some([change.low_pct, change.high_pct]),
    };
    Row {
        name,
        marks: [None, Some(mark)],
    }
}
