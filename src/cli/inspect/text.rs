//! An inspection for people.

use std::path::Path;

use pintle_protocol::Item;

use super::Inspection;
use crate::{
    capture::{Contents, Damage, Header, Kept, RowCounts, Tally},
    cli::terminal,
    identity::CarIdentity,
    printable,
    quantity::{self, Units},
    series::summary::{Dropped, Seconds},
};

/// Gaps, marks and link states shown one by one.
const MOST_SHOWN: usize = 20;

pub(super) fn of(inspection: &Inspection, path: &Path, units: Units) -> String {
    let contents = &inspection.contents;
    let parts = [
        opening(inspection, path),
        items(contents, units),
        meanings(contents),
        other_answers(contents),
        unanswered(contents),
        labels(&inspection.seconds),
        dropped(&inspection.dropped),
        gaps(&contents.gaps),
        notes("marks", &contents.marks),
        notes("link", &contents.links),
        damage(&contents.damage),
    ];
    let said: Vec<String> = parts.into_iter().filter(|part| !part.is_empty()).collect();
    said.join("\n")
}

fn opening(inspection: &Inspection, path: &Path) -> String {
    let contents = &inspection.contents;
    let rows = &contents.rows;
    format!(
        "{}: {}, {} rows\n{}{}{}",
        printable::line(&path.display().to_string()),
        clock(contents.last_us),
        rows.data + rows.none + rows.mark + rows.link + rows.value,
        origin(&contents.header),
        car(&inspection.car),
        kinds(rows),
    )
}

fn origin(header: &Header) -> String {
    let vehicle = header
        .vehicle
        .as_ref()
        .and_then(|vehicle| vehicle.label.clone());
    let link = header.link.as_ref();
    let parts = [
        ("vehicle", vehicle),
        (
            "started",
            header.started.map(|started| format!("{started:.0}")),
        ),
        ("by", header.program.clone()),
        ("protocol", link.and_then(|link| link.protocol.clone())),
        ("adapter", link.and_then(|link| link.adapter.clone())),
    ];
    list(parts)
}

/// What tells this car from others.
fn car(car: &CarIdentity) -> String {
    let program = car.calibrations.join(" ");
    let counters = car.misfire_counters().highest();
    list([
        ("VIN", car.vin.clone()),
        ("calibration", (!program.is_empty()).then_some(program)),
        (
            "misfire counters",
            (counters > 0).then(|| counters.to_string()),
        ),
    ])
}

/// What is known of these, in a line.
fn list<const N: usize>(parts: [(&str, Option<String>); N]) -> String {
    let parts = parts
        .into_iter()
        .filter_map(|(word, what)| Some(format!("{word} {}", printable::line(&what?))));
    let parts: Vec<String> = parts.collect();
    if parts.is_empty() {
        String::new()
    } else {
        format!("{}\n", parts.join(", "))
    }
}

fn kinds(rows: &RowCounts) -> String {
    let kinds = [
        (rows.data, "answer", "answers"),
        (
            rows.value,
            "value from another logger",
            "values from another logger",
        ),
        (rows.none, "without answer", "without answer"),
        (rows.mark, "mark", "marks"),
        (rows.link, "link event", "link events"),
    ];
    let some = kinds.into_iter().filter(|(count, ..)| *count > 0);
    let words: Vec<String> = some
        .map(|(count, one, several)| match count {
            1 => format!("1 {one}"),
            _ => format!("{count} {several}"),
        })
        .collect();
    format!("{}\n", words.join(", "))
}

fn items(contents: &Contents, units: Units) -> String {
    if contents.items.is_empty() {
        return "no readings\n".to_owned();
    }
    let narrow = terminal::width().is_some_and(|width| width < NARROW);
    let items = contents.items.iter();
    let rows: Vec<[String; 9]> = items
        .map(|((ecu, item), tally)| item_cells(ecu, *item, tally, units))
        .collect();
    let shown = |column: &usize| {
        let said = rows
            .iter()
            .any(|row| row.get(*column).is_some_and(|cell| !cell.is_empty()));
        said && !(narrow && SPARED.contains(column))
    };
    let shown: Vec<usize> = (0..HEADINGS.len()).filter(shown).collect();
    let headings: Vec<&str> = shown
        .iter()
        .filter_map(|column| HEADINGS.get(*column).copied())
        .collect();
    let mut table = terminal::table(&headings);
    for row in &rows {
        table.add_row(shown.iter().filter_map(|column| row.get(*column)));
    }
    terminal::text_of(&table)
}

/// Headings of all columns of the table, from left to right.
const HEADINGS: [&str; 9] = [
    "ecu", "request", "quantity", "readings", "per s", "first", "last", "low", "high",
];

/// Columns left away where the terminal is narrow: the first and the last value.
const SPARED: [usize; 2] = [5, 6];

/// Terminal columns below which a table must spare some of its own.
const NARROW: u16 = 90;

fn item_cells(ecu: &str, item: Item, tally: &Tally, units: Units) -> [String; 9] {
    // a code is no measure: what it means stands in a table of its own
    let number = |value: f64| match quantity::text(item, value) {
        Some(_) => String::new(),
        None => units.measure(value, quantity::unit(item)),
    };
    [
        ecu.to_owned(),
        item.to_string(),
        quantity::name(item).unwrap_or_default(),
        tally.readings.to_string(),
        tally
            .per_second()
            .map(|rate| format!("{rate:.2}"))
            .unwrap_or_default(),
        number(tally.first),
        number(tally.last),
        number(tally.low),
        number(tally.high),
    ]
}

/// What bits and codes stand for: by the first value and by the last.
fn meanings(contents: &Contents) -> String {
    let mut table = terminal::table(&["ecu", "request", "state", "meaning"]);
    for ((ecu, item), tally) in &contents.items {
        let text = |value| quantity::text(*item, value);
        let (Some(first), Some(last)) = (text(tally.first), text(tally.last)) else {
            continue;
        };
        let meaning = match first == last {
            true if tally.low == tally.high => last,
            true => format!("{last} at the start and the end; other values in between"),
            false => format!("{first} at the start; {last} at the end"),
        };
        let name = quantity::name(*item).unwrap_or_default();
        table.add_row([ecu.clone(), item.to_string(), name, meaning]);
    }
    if table.is_empty() {
        String::new()
    } else {
        terminal::text_of(&table)
    }
}

fn other_answers(contents: &Contents) -> String {
    if contents.other_answers.is_empty() {
        return String::new();
    }
    let mut table = terminal::table(&["other answers", "request", "times"]);
    for ((ecu, request), times) in &contents.other_answers {
        table.add_row([ecu.clone(), request.clone(), times.to_string()]);
    }
    terminal::text_of(&table)
}

fn unanswered(contents: &Contents) -> String {
    if contents.unanswered.is_empty() {
        return String::new();
    }
    let mut table = terminal::table(&["without answer", "request", "why", "times"]);
    for ((ecu, request, reason), times) in &contents.unanswered {
        table.add_row([
            ecu.clone(),
            request.clone(),
            reason.clone(),
            times.to_string(),
        ]);
    }
    terminal::text_of(&table)
}

fn labels(seconds: &Seconds) -> String {
    let labels = [
        (seconds.used, "used"),
        (seconds.engine_off, "engine off"),
        (seconds.stale, "a needed reading is too old"),
        (seconds.implausible, "implausible"),
        (seconds.cold, "cold"),
        (seconds.open_loop, "open loop"),
        (seconds.fuel_cut, "fuel cut"),
        (seconds.transient, "transient"),
        (seconds.relearn, "relearning"),
    ];
    let mut table = terminal::table(&["moments", "seconds"]);
    for (count, word) in labels.into_iter().filter(|(count, _)| *count > 0.0) {
        table.add_row([word.to_owned(), format!("{count:.0}")]);
    }
    table.add_row(["in all".to_owned(), format!("{:.0}", seconds.total)]);
    terminal::text_of(&table)
}

/// Readings that nothing is built on.
fn dropped(dropped: &[Dropped]) -> String {
    if dropped.is_empty() {
        return String::new();
    }
    let mut table =
        terminal::table(&["cannot be true between its neighbours", "readings left out"]);
    for Dropped { quantity, readings } in dropped {
        table.add_row([quantity.clone(), readings.to_string()]);
    }
    terminal::text_of(&table)
}

fn gaps(gaps: &Kept<(u64, u64)>) -> String {
    if gaps.count == 0 {
        return String::new();
    }
    let shown = gaps.first.iter().take(MOST_SHOWN);
    let lines = shown.map(|(from, to)| {
        let seconds = (to - from) as f64 / 1e6;
        format!("  {}  {seconds:.1} s without an answer\n", clock(*from))
    });
    format!(
        "gaps: {}\n{}{}",
        gaps.count,
        lines.collect::<String>(),
        and_more(gaps.count)
    )
}

fn notes(title: &str, notes: &Kept<(u64, String)>) -> String {
    if notes.count == 0 {
        return String::new();
    }
    let shown = notes.first.iter().take(MOST_SHOWN);
    let lines =
        shown.map(|(t_us, text)| format!("  {}  {}\n", clock(*t_us), printable::line(text)));
    format!(
        "{title}: {}\n{}{}",
        notes.count,
        lines.collect::<String>(),
        and_more(notes.count)
    )
}

fn and_more(count: u64) -> String {
    match count.checked_sub(MOST_SHOWN as u64) {
        Some(more) if more > 0 => format!("  and {more} more\n"),
        _ => String::new(),
    }
}

fn damage(damage: &Damage) -> String {
    let mut lines = String::new();
    if damage.bad_lines > 0 {
        lines.push_str(&format!("{} damaged lines, skipped:\n", damage.bad_lines));
        for bad in &damage.first_bad {
            lines.push_str(&format!("  line {}: {}\n", bad.line, bad.problem));
        }
    }
    if damage.torn_end {
        lines.push_str("the file ends in the middle of a line, which was left out\n");
    }
    if damage.broken_compression {
        lines.push_str("parts of the compressed file are damaged or cut off; they were left out\n");
    }
    if lines.is_empty() {
        "no damage\n".to_owned()
    } else {
        lines
    }
}

/// A time as minutes and seconds.
fn clock(t_us: u64) -> String {
    let tenths = t_us.saturating_add(50_000) / 100_000;
    let (minutes, tenths) = (tenths / 600, tenths % 600);
    format!("{minutes}:{:02}.{}", tenths / 10, tenths % 10)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_minute_that_is_nearly_over_is_the_next_one() {
        assert_eq!(clock(0), "0:00.0");
        assert_eq!(clock(59_940_000), "0:59.9");
        assert_eq!(clock(59_960_000), "1:00.0");
        assert_eq!(clock(3_599_999_999), "60:00.0");
    }
}
