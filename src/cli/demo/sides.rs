//! Both sides of the demo's job next to each other.

use super::super::terminal;
use crate::{
    diagnose::{
        Diagnosis,
        diagnosis::{CylinderRate, Trim},
    },
    report::text,
};

/// The numbers before and after, and the second finding.
pub(super) fn render(before: &Diagnosis, after: &Diagnosis) -> String {
    let mut table = terminal::table(&["", "before", "after"]);
    for trim in &before.trims {
        let name = format!("bank {}, {}", trim.bank, trim.region.words());
        let same = |other: &&Trim| (other.bank, other.region) == (trim.bank, trim.region);
        let other = after.trims.iter().find(same);
        table.add_row([
            name,
            correction(trim),
            other.map_or_else(String::new, correction),
        ]);
    }
    for rate in &before.misfires.cylinders {
        let name = format!("cylinder {}, misfires in 1000 revolutions", rate.cylinder);
        let same = |other: &&CylinderRate| other.cylinder == rate.cylinder;
        let other = after.misfires.cylinders.iter().find(same);
        table.add_row([
            name,
            misfires(rate),
            other.map_or_else(String::new, misfires),
        ]);
    }
    format!(
        "\n{}\nAfterwards: {}\nThe intervals hold for these two drives. Two drives of an unchanged car differ\n\
         by about 2 points of trim, so a small difference proves nothing yet.\n",
        terminal::text_of(&table),
        text::finding(after)
    )
}

fn correction(trim: &Trim) -> String {
    format!(
        "{:+.1} % ({:+.1} to {:+.1})",
        trim.mean_pct, trim.low_pct, trim.high_pct
    )
}

fn misfires(rate: &CylinderRate) -> String {
    let counted = rate.counted.as_ref();
    counted.map_or_else(String::new, |counted| {
        format!(
            "{:.2} ({:.2} to {:.2})",
            counted.per_1000_rev, counted.low, counted.high
        )
    })
}
