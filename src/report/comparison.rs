//! A comparison as a technician reads it, and its published machine-readable form.

use serde::Serialize;

use super::{
    terminal_page::{Page, Text},
    words::{inside, rate},
};
use crate::{
    compare::{
        Change, Comparison, Confounder, FuelAnswer, MisfireChange, Needed, Verdict,
        comparison::{BankChange, TrimChange},
    },
    quantity::signed,
    rounded::to_decimals,
    series::label::region::Region,
};

/// Name and version of the machine-readable format.
const SCHEMA: &str = "pintle.comparison/1";

/// Addition to numbers from driving common to both sides, as whole drives give different numbers.
const SAME_DRIVING: &str = " (in driving conditions common to both recordings)";

/// Explanation of differences between banks: percentages multiply, so they are no plain differences.
pub(super) const RELATIVE_TO_BANK: &str = "One bank relative to another: how many percent more or less fuel it needs than the \
     other. This is a ratio, so it is not quite the difference of the two fuel trims.";

/// The whole text.
pub fn render(comparison: &Comparison, width: Option<u16>) -> Text {
    let page = Page::new(width);
    let mut text = String::new();
    fuel_trims(&page, &mut text, comparison);
    misfires(&page, &mut text, comparison);
    let needed: Vec<String> = comparison.needed.iter().map(need).collect();
    let lines = needed.iter().map(String::as_str);
    page.list(
        &mut text,
        "What would settle it (on either side, if it stays as it looks now)",
        lines,
    );
    let first = sentence(comparison);
    let said_above = |warning: &&str| first.ends_with(&inside(warning));
    let warnings = comparison.warnings.iter().map(String::as_str);
    let warnings = warnings.filter(|warning| !said_above(warning));
    page.list(&mut text, "Note", warnings);
    page.text(&first, text)
}

/// The verdict in one or two sentences.
pub fn sentence(comparison: &Comparison) -> String {
    let why = reasons(comparison, comparison.verdict);
    match comparison.verdict {
        Verdict::Better => format!("Better: {}{SAME_DRIVING}.", why.join("; ")),
        Verdict::Worse => format!("Worse: {}{SAME_DRIVING}.", why.join("; ")),
        Verdict::NoChange => format!(
            "No change: any change is too small to matter (less than {} points of fuel trim, less than {} times the \
             misfires).",
            comparison.limits.trim_points, comparison.limits.misfire_factor
        ),
        Verdict::CannotTell if comparison.if_same_fuel.is_some() => if_same_fuel(comparison),
        Verdict::CannotTell if comparison.forbidden().is_some() => {
            format!(
                "Cannot tell: {}",
                inside(comparison.forbidden().unwrap_or_default())
            )
        }
        Verdict::CannotTell => {
            let better = reasons(comparison, Verdict::Better);
            let worse = reasons(comparison, Verdict::Worse);
            match (better.is_empty(), worse.is_empty()) {
                (false, false) => format!(
                    "Cannot tell: better in part ({}), worse in part ({}).",
                    better.join("; "),
                    worse.join("; ")
                ),
                _ => undirected(comparison).unwrap_or_else(|| nothing_says_more(comparison)),
            }
        }
    }
}

/// Explains an inconclusive verdict where nothing moved by enough.
fn nothing_says_more(comparison: &Comparison) -> String {
    let mut found = comparison.confounders.iter().zip(&comparison.warnings);
    let not_judged = found.find(|(confounder, _)| **confounder == Confounder::NotJudged);
    let why = match not_judged {
        Some((_, words)) => &inside(words),
        None if comparison.trims.is_empty() => {
            "no engine speed and load was held long enough in both recordings."
        }
        None => "the change is within this car's normal variation.",
    };
    format!("Cannot tell: {why}")
}

/// The verdict on the assumption of the same fuel, where the verdict depends on the fuel.
fn if_same_fuel(comparison: &Comparison) -> String {
    let same = comparison.if_same_fuel.as_deref().unwrap_or(comparison);
    let word = match same.verdict {
        Verdict::Better => "better",
        Verdict::Worse => "worse",
        Verdict::NoChange | Verdict::CannotTell => "no change that matters",
    };
    let why = reasons(same, same.verdict).join("; ");
    format!("Cannot tell yet: {word} if the fuel is the same ({why}). Was another fuel filled in?")
}

/// The sentence on a level that moved without a known direction; `None` where there is none.
fn undirected(comparison: &Comparison) -> Option<String> {
    let mut trims = comparison.trims.iter().map(|trim| &trim.change);
    let moved = trims.find(|change| change.lacks_direction(&comparison.limits))?;
    Some(format!(
        "Cannot tell: total fuel trim went from {} to {} %, which is more than this car's normal variation, but both \
         values are normal for a healthy engine.",
        signed(moved.before_pct),
        signed(moved.after_pct)
    ))
}

/// The statements that carry a verdict.
fn reasons(comparison: &Comparison, verdict: Verdict) -> Vec<String> {
    let says = |change: &Change| change.verdict == verdict;
    let from_to = |change: &Change| {
        format!(
            "from {} to {} %",
            signed(change.before_pct),
            signed(change.after_pct)
        )
    };
    let trims = comparison.trims.iter().filter(|trim| says(&trim.change));
    let trims = trims.map(|trim| match comparison.trims.len() {
        1 => format!("total fuel trim went {}", from_to(&trim.change)),
        _ => format!(
            "fuel trim of bank {} went {}",
            trim.bank,
            from_to(&trim.change)
        ),
    });
    let banks = comparison.banks.iter().filter(|bank| says(&bank.change));
    let banks = banks.map(|bank| {
        format!(
            "bank 1 relative to bank {} went {}",
            bank.other,
            from_to(&bank.change)
        )
    });
    let across = comparison
        .standing_against_driving
        .iter()
        .filter(|change| says(change));
    let across =
        across.map(|change| format!("the difference of idle to driving went {}", from_to(change)));
    let misfires = comparison
        .misfires
        .iter()
        .filter(|misfires| misfires.verdict == verdict);
    let misfires = misfires.map(|misfires| {
        format!(
            "cylinder {} went from {} to {} misfires per 1000 revolutions",
            misfires.cylinder,
            rate(misfires.before_per_1000_rev),
            rate(misfires.after_per_1000_rev)
        )
    });
    misfires.chain(trims).chain(banks).chain(across).collect()
}

fn fuel_trims(page: &Page, text: &mut String, comparison: &Comparison) {
    if comparison.trims.is_empty() {
        page.heading(
            text,
            "Fuel trim: no engine speed and load was held long enough in both recordings.",
        );
        return;
    }
    page.heading(
        text,
        "Total fuel trim, in driving conditions common to both recordings",
    );
    let mut rows = Vec::new();
    for trim in &comparison.trims {
        rows.push(row(format!("bank {}", trim.bank), &trim.change));
        let own = comparison
            .regions
            .iter()
            .filter(|region| region.bank == trim.bank);
        rows.extend(own.map(|region| row(format!("  {}", region.region.at()), &region.change)));
    }
    for bank in &comparison.banks {
        rows.push(row(
            format!("bank 1 relative to bank {}", bank.other),
            &bank.change,
        ));
    }
    let across = comparison.standing_against_driving.iter();
    rows.extend(across.map(|change| row("idle minus driving".to_owned(), change)));
    page.table(
        text,
        &["", "before", "after", "change", "interval", "matched"],
        rows,
    );
    if !comparison.banks.is_empty() {
        page.paragraph(text, RELATIVE_TO_BANK, "  ");
    }
    page.paragraph(text, &spread(comparison), "  ");
}

fn row(name: String, change: &Change) -> Vec<String> {
    vec![
        name,
        format!("{} %", signed(change.before_pct)),
        format!("{} %", signed(change.after_pct)),
        signed(change.written_difference()),
        format!("{} to {}", signed(change.low_pct), signed(change.high_pct)),
        format!("{:.0} s", change.matched_seconds),
    ]
}

/// The sentence on the variation that the intervals are based on.
pub(super) fn spread(comparison: &Comparison) -> String {
    let points = comparison.spread.region_points();
    let source = if comparison.spread.degrees_of_freedom > 0.0 {
        "measured on one other car, with these recordings' own variation weighed in"
    } else {
        "measured on one other car, because a side has only one recording"
    };
    let (tank, shown_by) = if comparison.spread.new_fuel < 0.5 {
        (
            "on the same tank of fuel ",
            " Fuel level and running time show that the car was not refuelled in between.",
        )
    } else {
        ("", "")
    };
    format!(
        "The intervals hold for the car, not only for these drives: {tank}the fuel trim of an unchanged car varies by \
         {points:.1} points from trip to trip ({source}).{shown_by}"
    )
}

fn misfires(page: &Page, text: &mut String, comparison: &Comparison) {
    if comparison.misfires.is_empty() {
        return;
    }
    page.heading(
        text,
        "Misfires per 1000 revolutions, in driving conditions common to both recordings",
    );
    let rows = comparison.misfires.iter().map(|misfires| {
        let ratio = misfires.rate_ratio.map_or_else(|| "-".to_owned(), times);
        let (ratio, interval) = if misfires.tells_a_ratio() {
            (ratio, interval(misfires))
        } else {
            ("-".to_owned(), "too few to tell".to_owned())
        };
        vec![
            format!("cylinder {}", misfires.cylinder),
            rate(misfires.before_per_1000_rev),
            rate(misfires.after_per_1000_rev),
            ratio,
            interval,
        ]
    });
    page.table(
        text,
        &["", "before", "after", "after/before", "interval"],
        rows.collect(),
    );
}

/// The interval of a ratio of misfire rates.
pub(super) fn interval(misfires: &MisfireChange) -> String {
    let low = times(misfires.low);
    match misfires.high {
        Some(high) => format!("{low} to {}", times(high)),
        None => format!("{low} or more"),
    }
}

/// A ratio with two significant digits.
pub(super) fn times(ratio: f64) -> String {
    match ratio {
        large if large >= 10.0 => format!("{large:.0}"),
        middle if middle >= 1.0 => format!("{middle:.1}"),
        small => format!("{small:.2}"),
    }
}

/// One needed recording in words.
pub(super) fn need(needed: &Needed) -> String {
    match (needed.region, needed.more_trips) {
        (Some(region), _) => format!("{:.1} more minutes {}", needed.more_minutes, region.at()),
        (None, 1) => "one more trip on each side, on another day".to_owned(),
        (None, trips) => format!("{trips} more trips on each side, on other days"),
    }
}

/// A comparison as one document.
#[derive(Debug, Serialize)]
pub struct Document<'a> {
    schema: &'static str,
    verdict: &'static str,
    sentence: String,
    /// What the verdict depends on, where the user can answer: `fuel`.
    depends_on: Option<&'static str>,
    /// The verdict on the assumption of the same fuel.
    if_same_fuel: Option<&'static str>,
    /// The user's answer about the fuel.
    fuel: FuelAnswer,
    trims: Vec<TrimEntry>,
    banks: Vec<BankEntry>,
    standing_against_driving: Option<ChangeEntry>,
    regions: Vec<RegionEntry>,
    misfires: Vec<MisfireEntry>,
    needed: Vec<NeededEntry>,
    trip_spread_points: f64,
    trip_spread_measured: bool,
    warnings: &'a [String],
}

#[derive(Debug, Serialize)]
struct ChangeEntry {
    before_pct: f64,
    after_pct: f64,
    difference_pct: f64,
    low_pct: f64,
    high_pct: f64,
    matched_seconds: f64,
    verdict: &'static str,
}

#[derive(Debug, Serialize)]
struct TrimEntry {
    bank: u8,
    #[serde(flatten)]
    change: ChangeEntry,
}

#[derive(Debug, Serialize)]
struct BankEntry {
    other: u8,
    #[serde(flatten)]
    change: ChangeEntry,
}

#[derive(Debug, Serialize)]
struct RegionEntry {
    bank: u8,
    region: Region,
    #[serde(flatten)]
    change: ChangeEntry,
}

#[derive(Debug, Serialize)]
struct MisfireEntry {
    cylinder: u8,
    before_per_1000_rev: f64,
    after_per_1000_rev: f64,
    rate_ratio: Option<f64>,
    low: f64,
    high: Option<f64>,
    verdict: &'static str,
}

#[derive(Debug, Serialize)]
struct NeededEntry {
    region: Option<Region>,
    more_minutes: f64,
    more_trips: u32,
}

/// The document of a comparison.
pub fn document(comparison: &Comparison) -> Document<'_> {
    let regions = comparison.regions.iter().map(|region| RegionEntry {
        bank: region.bank,
        region: region.region,
        change: ChangeEntry::from(&region.change),
    });
    let across = comparison.standing_against_driving.as_ref();
    let needed = comparison.needed.iter().map(|needed| NeededEntry {
        region: needed.region,
        more_minutes: needed.more_minutes,
        more_trips: needed.more_trips,
    });
    Document {
        schema: SCHEMA,
        verdict: comparison.verdict.id(),
        sentence: sentence(comparison),
        depends_on: comparison.if_same_fuel.is_some().then_some("fuel"),
        if_same_fuel: comparison
            .if_same_fuel
            .as_ref()
            .map(|same| same.verdict.id()),
        fuel: comparison.fuel,
        trims: comparison.trims.iter().map(TrimEntry::from).collect(),
        banks: comparison.banks.iter().map(BankEntry::from).collect(),
        standing_against_driving: across.map(ChangeEntry::from),
        regions: regions.collect(),
        misfires: comparison.misfires.iter().map(MisfireEntry::from).collect(),
        needed: needed.collect(),
        trip_spread_points: to_decimals(comparison.spread.region_points(), 2),
        trip_spread_measured: comparison.spread.degrees_of_freedom > 0.0,
        warnings: &comparison.warnings,
    }
}

impl From<&Change> for ChangeEntry {
    fn from(change: &Change) -> Self {
        Self {
            before_pct: to_decimals(change.before_pct, 2),
            after_pct: to_decimals(change.after_pct, 2),
            difference_pct: to_decimals(change.difference_pct, 2),
            low_pct: to_decimals(change.low_pct, 2),
            high_pct: to_decimals(change.high_pct, 2),
            matched_seconds: change.matched_seconds,
            verdict: change.verdict.id(),
        }
    }
}

impl From<&TrimChange> for TrimEntry {
    fn from(trim: &TrimChange) -> Self {
        Self {
            bank: trim.bank,
            change: ChangeEntry::from(&trim.change),
        }
    }
}

impl From<&BankChange> for BankEntry {
    fn from(bank: &BankChange) -> Self {
        Self {
            other: bank.other,
            change: ChangeEntry::from(&bank.change),
        }
    }
}

impl From<&MisfireChange> for MisfireEntry {
    fn from(misfires: &MisfireChange) -> Self {
        Self {
            cylinder: misfires.cylinder,
            before_per_1000_rev: to_decimals(misfires.before_per_1000_rev, 3),
            after_per_1000_rev: to_decimals(misfires.after_per_1000_rev, 3),
            rate_ratio: misfires.rate_ratio.map(|ratio| to_decimals(ratio, 3)),
            low: to_decimals(misfires.low, 3),
            high: misfires.high.map(|high| to_decimals(high, 3)),
            verdict: misfires.verdict.id(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        compare::{FuelAnswer, Limits, compare},
        series::{
            summary::{Facts, Summary},
            warning::NotJudged,
        },
    };

    #[test]
    fn where_nothing_could_be_compared_no_change_is_spoken_of() {
        let said = |facts: Facts| {
            let side = [Summary {
                facts,
                ..Summary::default()
            }];
            sentence(&compare(
                &side,
                &side,
                &Limits::default(),
                FuelAnswer::Unknown,
            ))
        };
        let apart = said(Facts::default());
        assert!(
            apart.starts_with("Cannot tell: no engine speed and load"),
            "{apart}"
        );
        let diesel = said(Facts {
            not_judged: Some(NotJudged::Diesel),
            ..Facts::default()
        });
        assert!(diesel.contains("runs on diesel"), "{diesel}");
    }

    /// Swapped sides leave no verdict: the first sentence gives the reason, in lower case, and it is not repeated.
    #[test]
    fn the_reason_for_no_verdict_stands_once() {
        let mut comparison = compare(
            &[Summary::default()],
            &[Summary::default()],
            &Limits::default(),
            FuelAnswer::Unknown,
        );
        comparison.forbid(
            Confounder::SidesSwapped,
            "The sides are swapped.".to_owned(),
        );
        comparison.warnings.push("VIN unknown.".to_owned());
        let text = render(&comparison, None).to_string();
        assert!(
            text.starts_with("Cannot tell: the sides are swapped."),
            "{text}"
        );
        assert_eq!(text.matches("sides are swapped").count(), 1, "{text}");
        assert!(text.contains("VIN unknown."), "{text}");
    }

    /// 2.26 and 2.14 are printed as 2.3 and 2.1: the printed change is −0.2, not the −0.1 of −0.12.
    #[test]
    fn a_change_is_what_both_written_ends_make_it() {
        let change = Change {
            before_pct: 2.26,
            after_pct: 2.14,
            difference_pct: -0.12,
            low_pct: -1.0,
            high_pct: 1.0,
            matched_seconds: 60.0,
            towards_sound_pct: 0.0,
            verdict: Verdict::NoChange,
        };
        let row = row("bank 1".to_owned(), &change);
        assert_eq!(row[1..4], ["+2.3 %", "+2.1 %", "−0.2"]);
    }
}
