//! The page for the customer through the binary.

use std::{fs, path::Path};

use crate::{
    harness::Workbench,
    job::{opened, said, stored},
};

/// Writes the page and gives its text.
fn page(bench: &Workbench, more: &[&str]) -> String {
    let path = said(bench, &[&["report", "visit"], more].concat());
    fs::read_to_string(bench.path().join(path.trim())).unwrap()
}

/// Lays a healthy recording into the job as that of the other side.
fn add_after(bench: &Workbench) {
    let after = bench
        .path()
        .join("visit/captures/after-2026-11-22-101500.capture.csv.gz");
    fs::copy(stored("van3-healthy.capture.csv.gz"), after).unwrap();
    said(
        bench,
        &[
            "job",
            "done",
            "visit",
            "injectors <b>cleaned</b>",
            "--cost",
            "120",
        ],
    );
}

#[test]
fn whatever_the_owner_says_shows_as_text_and_nothing_is_fetched() {
    let bench = Workbench::new();
    opened(&bench, "<script>alert(1)</script> \"& shakes\" <img/src=x>");
    add_after(&bench);
    let page = page(&bench, &[]);
    assert!(
        page.contains("&lt;script&gt;alert(1)&lt;/script&gt;"),
        "{page}"
    );
    assert!(page.contains("Injectors &lt;b&gt;cleaned&lt;/b&gt; (cost: 120.00)"));
    for never in ["<script", "<img", "<b>", " src=", "@import", "url("] {
        assert!(!page.contains(never), "{never}");
    }
    assert_eq!(
        page.matches("href=").count(),
        page.matches("href=\"data:,\"").count()
    );
    assert!(page.len() < 400_000, "{} bytes", page.len());
}

#[test]
fn the_page_shows_what_was_found_done_and_measured_on_both_sides() {
    let bench = Workbench::new();
    opened(&bench, "shakes at idle");
    bench.file(
        "form.toml",
        "[[injector]]\ncylinder = 1\nvolume_ml = 100\n[[injector]]\ncylinder = 3\nvolume_ml = 70\n",
    );
    said(&bench, &["bench", "form.toml", "--job", "visit"]);
    add_after(&bench);
    let page = page(&bench, &[]);
    for words in [
        "Report on van 3",
        "148060 km",
        "shakes at idle",
        "injector of cylinder 3 restricted",
        "How much fuel the engine computer adds",
        "Misfires by cylinder",
        "Flow of each injector",
        "The drive before the work",
        "The drive after the work",
        "What the finding rests on",
        "Measured by hand",
        "Cautions",
        "before-2026-11-20-101500.capture.csv.gz",
    ] {
        assert!(page.contains(words), "{words}");
    }
    // each drawing has a title and its numbers in words
    let drawings = page.matches("role=\"img\"").count();
    assert!(drawings >= 6);
    assert_eq!(page.matches("<desc").count(), drawings);
    assert_eq!(page.matches("<title id=").count(), drawings);
    assert!(self::page(&bench, &["--units", "us"]).contains("92000 miles"));
}

/// The healthy recording was made before the other one: what looks like a success must not be sold as one.
#[test]
fn a_comparison_that_proves_nothing_is_not_called_a_success() {
    let bench = Workbench::new();
    opened(&bench, "shakes at idle");
    add_after(&bench);
    let page = page(&bench, &[]);
    for words in [
        "Cannot tell: ",
        "the sides are swapped",
        "is not proven",
        "What changed, in the same driving conditions",
        "The same by engine speed and load",
    ] {
        assert!(page.contains(words), "{words}");
    }
    assert!(!page.contains("Nothing more needs to be done"));
}

/// The number between two pieces of text.
fn between<'a>(text: &'a str, before: &str, after: &str) -> &'a str {
    let (_, rest) = text
        .split_once(before)
        .unwrap_or_else(|| panic!("{before}: {text}"));
    rest.split_once(after)
        .unwrap_or_else(|| panic!("{after}: {rest}"))
        .0
}

/// What went from where to where is the same in the first sentence, in the table, in the picture and on the terminal.
#[test]
fn the_same_thing_is_the_same_number_wherever_it_stands() {
    let bench = Workbench::new();
    said(
        &bench,
        &[
            "job",
            "new",
            "visit",
            "--label",
            "van 3",
            "--complaint",
            "none",
            "--mileage",
            "1km",
        ],
    );
    for (side, name) in [
        ("before-2026-11-22", "van3-healthy.capture.csv.gz"),
        ("after-2026-11-25", "van3-injector-3-down-30.capture.csv.gz"),
    ] {
        let filed = format!("visit/captures/{side}-101500.capture.csv.gz");
        fs::copy(stored(name), bench.path().join(filed)).unwrap();
    }
    let page = page(&bench, &[]);
    let headline = between(
        &page,
        "cylinder 3 went from ",
        " misfires per 1000 revolutions",
    );
    let (before, after) = headline.split_once(" to ").unwrap();
    let table = between(
        &page,
        "aria-label=\"Misfires before and after\"",
        "</table>",
    );
    let row = between(table, "<th scope=\"row\">3</th><td>", "</td><td>");
    assert_eq!(row, before);
    let picture = between(&page, "Misfires by cylinder", "</figure>");
    assert_eq!(between(picture, "cylinder 3, before: ", " ("), before);
    assert_eq!(between(picture, "cylinder 3, after: ", " ("), after);
    let output = bench
        .pintle(["compare", "--job", "visit"])
        .output()
        .unwrap();
    let said = String::from_utf8(output.stdout).unwrap();
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!(
        between(&said, "cylinder 3 went from ", " misfires per"),
        headline
    );
    let trim = between(&page, "total fuel trim went from ", "\u{a0}%");
    assert_eq!(between(&said, "total fuel trim went from ", " %"), trim);
    let (trim_before, _) = trim.split_once(" to ").unwrap();
    assert!(said.contains(&format!("bank 1 {trim_before} %")), "{said}");
}

/// In every row of the comparison, before plus change is after, as written.
#[test]
fn changes_add_up_as_they_are_written() {
    let bench = Workbench::new();
    let (healthy, lean) = (
        stored("van3-healthy.capture.csv.gz"),
        stored("van3-intake-leak.capture.csv.gz"),
    );
    let sides = [
        Path::new("compare"),
        Path::new("--before"),
        &healthy,
        Path::new("--after"),
        &lean,
    ];
    let output = bench.pintle(sides).output().unwrap();
    let said = String::from_utf8(output.stdout).unwrap();
    let tenths = |text: &str| {
        let number: f64 = text.replace('−', "-").parse().unwrap();
        (10.0 * number).round()
    };
    let mut rows = 0;
    for line in said.lines().filter(|line| line.contains(" % ")) {
        let words: Vec<&str> = line.split_whitespace().collect();
        let five = words.windows(5).find_map(|five| match five {
            [before, "%", after, "%", change] => Some([*before, *after, *change]),
            _ => None,
        });
        let Some([before, after, change]) = five else {
            continue;
        };
        assert_eq!(tenths(before) + tenths(change), tenths(after), "{line}");
        rows += 1;
    }
    assert!(rows >= 4, "{said}");
}

#[test]
fn before_any_work_the_page_says_what_is_open_and_what_comes_next() {
    let bench = Workbench::new();
    opened(&bench, "shakes at idle");
    let page = page(&bench, &[]);
    for words in [
        "No work has been done yet",
        "Checks that settle the doubt",
        "Treatment of the injectors",
        "No readings were taken by hand",
    ] {
        assert!(page.contains(words), "{words}");
    }
    assert!(!page.contains("The drive after the work"));
}

#[test]
fn pages_stand_beside_each_other_and_a_job_without_recordings_has_none() {
    let bench = Workbench::new();
    opened(&bench, "shakes at idle");
    let names: Vec<String> = (0..2).map(|_| said(&bench, &["report", "visit"])).collect();
    assert_ne!(names[0], names[1]);
    let mine = bench.file("mine.html", "mine");
    bench
        .pintle([
            Path::new("report"),
            Path::new("visit"),
            Path::new("--out"),
            &mine,
        ])
        .assert()
        .code(1);
    assert_eq!(fs::read_to_string(&mine).unwrap(), "mine");
    said(&bench, &["job", "new", "empty", "--no-questions"]);
    let refused = bench.pintle(["report", "empty"]).output().unwrap();
    assert_eq!(refused.status.code(), Some(1));
    assert!(
        String::from_utf8(refused.stderr)
            .unwrap()
            .contains("pintle record --job empty")
    );
}
