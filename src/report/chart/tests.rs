//! What the charts draw and say.

use super::{flow, fuel_trims, misfires, timeline};
use crate::{
    bank::ByBank,
    bench::{Readings, findings},
    diagnose::{
        Diagnosis,
        diagnosis::{Counted, CylinderRate, Misfires, Trim},
    },
    series::{
        label::{Label, region::Region},
        timeline::course::{Course, Running, Second},
    },
    vehicle::Vehicle,
};

fn trim(bank: u8, region: Region, mean_pct: f64) -> Trim {
    Trim {
        bank,
        region,
        mean_pct,
        std_error_log: 0.01,
        degrees_of_freedom: 10.0,
        low_pct: mean_pct - 2.0,
        high_pct: mean_pct + 2.0,
        seconds: 100.0,
    }
}

fn judged(second: u64, label: Label, trim_log: [Option<f64>; 4]) -> Second {
    Second {
        second,
        label,
        region: None,
        cell: None,
        running: Running::default(),
        trim_log: ByBank::from_array(trim_log),
    }
}

fn with_trims(trims: &[Trim]) -> Diagnosis {
    Diagnosis {
        trims: trims.to_vec(),
        ..Diagnosis::default()
    }
}

/// The text between two markers.
fn between<'a>(text: &'a str, from: &str, to: &str) -> &'a str {
    let rest = text.split_once(from).unwrap().1;
    rest.split_once(to).unwrap().0
}

#[test]
fn every_row_is_drawn_and_reported_on_both_sides() {
    let before = with_trims(&[
        trim(1, Region::WarmIdle, 11.0),
        trim(2, Region::WarmIdle, -1.0),
    ]);
    let after = with_trims(&[trim(1, Region::WarmIdle, 1.0), trim(1, Region::Loaded, 2.0)]);
    let chart = fuel_trims::chart([Some(&before), Some(&after)])
        .unwrap()
        .into_string();
    let reported = between(&chart, "<desc", "</desc>");
    for words in [
        "warm idle bank 1, before: +11.0 (+9.0 to +13.0).",
        "warm idle bank 1, after: +1.0 (−1.0 to +3.0).",
        "warm idle bank 2, before: −1.0 (−3.0 to +1.0).",
        "under load bank 1, after: +2.0",
    ] {
        assert!(reported.contains(words), "{words}: {reported}");
    }
    // one ring and one square in the legend too
    assert_eq!(chart.matches("<circle").count(), 2 + 1);
    assert_eq!(chart.matches("class=\"sign\" x=").count(), 2 + 1);
    assert!(chart.contains("total fuel trim, %") && chart.contains("no trim"));
}

#[test]
fn an_interval_without_an_end_stays_inside_the_drawing() {
    let endless = Trim {
        high_pct: f64::INFINITY,
        low_pct: f64::NEG_INFINITY,
        ..trim(1, Region::WarmIdle, 5.0)
    };
    let chart = fuel_trims::chart([Some(&with_trims(&[endless])), None])
        .unwrap()
        .into_string();
    assert!(
        !between(&chart, "class=\"interval\" d=\"", "\"").contains("inf"),
        "{chart}"
    );
    assert!(
        !chart.contains("after"),
        "a side that is not there is not in the legend"
    );
}

#[test]
fn where_nothing_was_measured_there_is_no_chart() {
    let nothing = Diagnosis::default();
    assert!(fuel_trims::chart([Some(&nothing), None]).is_none());
    assert!(misfires::chart([Some(&nothing), Some(&nothing)], None).is_none());
    assert!(timeline::chart("a", "a", &Course::default(), &[]).is_none());
    let form = Readings::from_toml("[[injector]]\ncylinder = 1\n", &Vehicle::default()).unwrap();
    assert!(flow::chart(&findings(&form, &Vehicle::default())).is_none());
}

#[test]
fn a_cylinder_that_is_only_named_by_a_code_is_no_row() {
    let counted = Some(Counted {
        count: 12.0,
        per_1000_rev: 3.0,
        low: 1.5,
        high: 5.25,
    });
    let cylinders = vec![
        CylinderRate {
            cylinder: 1,
            counted,
        },
        CylinderRate {
            cylinder: 2,
            counted: None,
        },
    ];
    let misfires = Misfires {
        cylinders,
        ..Misfires::default()
    };
    let found = Diagnosis {
        misfires,
        ..Diagnosis::default()
    };
    let chart = misfires::chart([Some(&found), None], None)
        .unwrap()
        .into_string();
    assert!(
        chart.contains("cylinder 1, before: 3.0 (1.5 to 5.2)."),
        "{chart}"
    );
    assert!(!chart.contains("cylinder 2"));
}

/// By hand: 60 s that count at +10.5 %, a minute left out, 60 s at −0.4 %; ln 1.105 = 0.0998, ln 0.996 = −0.0040.
#[test]
fn what_was_left_out_is_shaded_and_breaks_the_line() {
    let second = |second: u64| {
        let (label, log) = match second {
            0..60 => (Label::Used, 0.0998),
            60..120 => (Label::Cold, 0.5),
            _ => (Label::Used, -0.004),
        };
        judged(second, label, [Some(log), None, None, None])
    };
    let course = Course {
        seconds: (0..180).map(second).collect(),
    };
    let chart = timeline::chart("trip", "A trip", &course, &[])
        .unwrap()
        .into_string();
    let drawing = between(&chart, "<desc", "</figure>");
    assert_eq!(drawing.matches("class=\"left-out\"").count(), 1);
    let line = between(drawing, "class=\"course bank-1\" d=\"", "\"");
    assert_eq!(line.matches('M').count(), 2, "{line}");
    assert!(
        drawing.contains("3.0 minutes, 2.0 of them usable. Bank 1: between −0.4 and +10.5 %."),
        "{drawing}"
    );
    assert!(drawing.contains("warming up (1.0 min)"), "{drawing}");
    assert!(!drawing.contains("bank-2"));
}

#[test]
fn a_long_trip_is_drawn_as_coarsely_as_a_screen_can_show() {
    let second = |second: u64| {
        let label = if second.is_multiple_of(7) {
            Label::Transient
        } else {
            Label::Used
        };
        let swinging = (second as f64 / 100.0).sin() / 10.0;
        judged(second, label, [Some(swinging), Some(0.01), None, None])
    };
    let course = Course {
        seconds: (0..36_000).map(second).collect(),
    };
    let chart = timeline::chart("trip", "A trip", &course, &[])
        .unwrap()
        .into_string();
    assert!(chart.len() < 20_000, "{}", chart.len());
}
