//! Chart of the total fuel trim by engine speed and load, before and after, in cells common to both sides.

use super::{
    Chart,
    rows::{Mark, Row, Rows},
};
use crate::{
    compare::{CellChange, Comparison},
    quantity::signed,
    series::{
        gather::cell::Cell,
        label::region::{LOADED_PCT, Region},
    },
};

/// Largest number of cells drawn: those with the most time on both sides (assumed).
const MOST: usize = 10;

/// The chart; `None` where no cell was matched.
pub fn chart(comparison: &Comparison) -> Chart {
    let several = comparison.trims.len() > 1;
    let mut cells: Vec<&CellChange> = comparison.cells.iter().collect();
    cells.sort_by(|a, b| shared_seconds(b).total_cmp(&shared_seconds(a)));
    cells.truncate(MOST);
    cells.sort_by_key(|one| (one.bank, one.cell, one.region));
    let row = |one: &&CellChange| {
        let load = load_words(one);
        let more = if several {
            format!("{load}, bank {}", one.bank)
        } else {
            load
        };
        let mark = |value| {
            Some(Mark {
                value,
                interval: None,
            })
        };
        Row {
            name: [speed_words(one.cell), more],
            marks: [mark(one.before_pct), mark(one.after_pct)],
        }
    };
    let chart = Rows {
        id: "cells",
        title: "The same by engine speed and load",
        axis: "total fuel trim, %",
        reference: (0.0, "no trim"),
        band: None,
        sides: ["before", "after"],
        rows: cells.iter().map(row).collect(),
        number: signed,
        note: "The engine speeds and loads with the most time in both recordings. One of them alone proves nothing; an \
             injector fault shows in most of them.",
    };
    chart.figure()
}

fn shared_seconds(one: &CellChange) -> f64 {
    one.before_seconds.min(one.after_seconds)
}

fn speed_words(cell: Cell) -> String {
    let (low, high) = cell.engine_rpm();
    match high {
        Some(high) => format!("{low:.0}–{high:.0} rpm"),
        None => format!("over {low:.0} rpm"),
    }
}

fn load_words(one: &CellChange) -> String {
    // at a standstill all loads are one
    if matches!(one.region, Region::WarmIdle | Region::RaisedIdle) {
        return "standing".to_owned();
    }
    let (low, high) = one.cell.load_pct();
    // the boundary between driving gently and pulling runs through a cell
    let (low, high) = match one.region {
        Region::LightCruise => (low, high.map(|high| high.min(LOADED_PCT))),
        _ => (low.max(LOADED_PCT), high),
    };
    match high {
        Some(high) => format!("load {low:.0}–{high:.0} %"),
        None => format!("load over {low:.0} %"),
    }
}
