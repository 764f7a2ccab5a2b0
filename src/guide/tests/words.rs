//! Feedback stays readable.

use super::*;
use crate::guide::step::STEPS;

/// A foot that cannot hold a limit crosses it each second.
#[test]
fn words_do_not_flicker_and_numbers_keep_up() {
    let mut guided = Guided::at("2500 rpm");
    guided.hold(10, RAISED);
    assert_eq!(guided.words(), "counts");
    let mut changes = 0;
    let mut before = guided.guidance().feedback;
    for second in 0..60 {
        let rpm = if second % 2 == 0 { 2280.0 } else { 2330.0 };
        guided.hold(1, Held { rpm, ..RAISED });
        let now = guided.guidance().feedback;
        changes += u32::from(!now.is_like(&before));
        before = now;
    }
    assert!(changes <= 1, "{changes}");
    assert!(!guided.words().starts_with("counts"), "half of it does not");
    guided.hold(
        3,
        Held {
            rpm: 2100.0,
            ..RAISED
        },
    );
    assert_eq!(
        guided.words(),
        "does not count: 2100 rpm, hold 2300 to 2700 rpm"
    );
    guided.hold(
        2,
        Held {
            rpm: 2000.0,
            ..RAISED
        },
    );
    assert_eq!(
        guided.words(),
        "does not count: 2000 rpm, hold 2300 to 2700 rpm"
    );
}

/// The news alternate between two reasons and never say the same twice: it is still not called counting.
#[test]
fn bad_news_of_changing_kinds_are_not_held_back() {
    let mut guided = Guided::at("2500 rpm");
    guided.hold(10, RAISED);
    guided.moving(10, |second| match second % 2 {
        0 => Held {
            rpm: 1500.0,
            ..RAISED
        },
        _ => Held {
            km_h: 6.0,
            ..RAISED
        },
    });
    assert!(
        guided.words().starts_with("does not count"),
        "{}",
        guided.words()
    );
}

#[test]
fn every_sentence_of_a_step_fits_a_narrow_terminal() {
    for step in STEPS {
        for words in [step.title, step.instruction, step.why] {
            assert!(words.chars().count() <= 90, "{words}");
        }
    }
}
