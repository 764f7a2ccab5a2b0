//! Chart of each injector's flow on the bench, before and after cleaning.

use super::{
    Chart,
    rows::{Mark, Row, Rows},
};
use crate::bench::{Findings, Injector};

/// The chart; `None` where no flow was measured.
pub fn chart(found: &Findings) -> Chart {
    let row = |one: &Injector| Row {
        name: [format!("cylinder {}", one.cylinder), String::new()],
        marks: [
            one.relative_flow.map(|value| Mark {
                value,
                interval: one.low.zip(one.high).map(|(low, high)| [low, high]),
            }),
            one.relative_flow_after.map(|value| Mark {
                value,
                interval: None,
            }),
        ],
    };
    let chart = Rows {
        id: "flow",
        title: "Flow of each injector on the bench",
        axis: "flow, 1.00 = mean of the set",
        reference: (1.0, "mean of the set"),
        band: None,
        sides: ["as found", "cleaned"],
        rows: found.injectors.iter().map(row).collect(),
        number: |flow| format!("{flow:.2}"),
        note: "All injectors got the same pulses. One that delivers clearly less than the others is restricted. The \
             lines are what the instrument can resolve.",
    };
    chart.figure()
}
