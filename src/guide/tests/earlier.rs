//! Led to where earlier captures of the car were.

use super::*;
use crate::{guide::guidance::Against, series::gather::cell::Cell};

fn wanted(guided: &Guided) -> Vec<(Cell, f64)> {
    let wanted = guided.guidance().wanted;
    let left = wanted
        .iter()
        .map(|cell| (cell.cell, cell.wanted_seconds - cell.seconds));
    left.collect()
}

fn goes_to(guided: &mut Guided, title: &str) {
    guided.hold(10, IDLE);
    while guided.guidance().title != title {
        guided.run.skip();
    }
}

/// By hand: 40 s idle, 80 s at 2200 rpm and 35 %, 60 s at 1800 rpm and 25 %; three quarters of that, less the two to
/// four seconds around each change of place.
#[test]
fn cells_of_the_earlier_capture_are_wanted_and_shrink_as_they_are_visited() {
    let slow = Held {
        rpm: 1800.0,
        km_h: 55.0,
        load: 25.0,
        ..IDLE
    };
    let before = capture(&[(40, IDLE), (80, CRUISE), (60, slow)]);
    let mut guided = Guided::new(&[before]);
    goes_to(&mut guided, "Light cruise");
    let fast_cell = Cell { speed: 4, load: 3 };
    let slow_cell = Cell { speed: 3, load: 2 };
    let first = wanted(&guided);
    assert_eq!(
        first[0].0, fast_cell,
        "most is left where most time was spent"
    );
    assert!((54.0..=60.0).contains(&first[0].1), "{first:?}");
    assert!(
        first
            .iter()
            .any(|(cell, left)| *cell == slow_cell && (38.0..=45.0).contains(left))
    );

    guided.hold(40, CRUISE);
    assert_eq!(guided.words(), "counts");
    let left = wanted(&guided);
    assert_eq!(left[0].0, slow_cell, "now most is left there");
    guided.hold(60, CRUISE);
    assert_eq!(guided.words(), "counts, but not for the comparison");
    let advice = guided.guidance().feedback.advice();
    assert_eq!(
        advice.as_deref(),
        Some("Hold 1500 to 2000 rpm at 20 to 30 % load, as in the earlier captures.")
    );
    assert!(wanted(&guided).iter().all(|(cell, _)| *cell != fast_cell));
    guided.hold(60, slow);
    assert_eq!(guided.guidance().title, "Under load");
    let left = wanted(&guided);
    assert!(
        left.iter().all(|(cell, _)| cell.speed == 1),
        "idle alone is left: {left:?}"
    );
}

#[test]
fn at_a_stand_any_load_is_the_same_place() {
    let mut guided = Guided::new(&[capture(&[(100, IDLE)])]);
    let more_load = Held { load: 38.0, ..IDLE };
    guided.hold(10, more_load);
    assert_eq!(guided.guidance().title, "Warm idle");
    assert_eq!(guided.words(), "counts");
    guided.hold(80, more_load);
    assert_eq!(
        guided.guidance().title,
        "2500 rpm",
        "75 s are enough of 100"
    );
    assert_eq!(guided.guidance().against, Against::HardlyThere);
}

/// The earlier log was held at 3000 rpm: asking for 2500 would leave nothing to compare.
#[test]
fn earlier_captures_say_what_is_held_and_not_the_book() {
    let high = Held {
        rpm: 3010.0,
        ..RAISED
    };
    let mut guided = Guided::new(&[capture(&[(20, IDLE), (60, high)])]);
    goes_to(&mut guided, "2500 rpm");
    guided.hold(10, RAISED);
    assert_eq!(guided.words(), "counts, but not for the comparison");
    let advice = guided.guidance().feedback.advice();
    assert_eq!(
        advice.as_deref(),
        Some("Hold 3000 to 3500 rpm, as in the earlier captures.")
    );
    guided.hold(10, high);
    assert_eq!(guided.words(), "counts");
}

#[test]
fn where_the_earlier_captures_never_were_the_usual_time_serves_the_finding() {
    let mut guided = Guided::new(&[capture(&[(60, IDLE)])]);
    goes_to(&mut guided, "Under load");
    let guidance = guided.guidance();
    assert_eq!(guidance.against, Against::HardlyThere);
    assert_eq!(guidance.progress.wanted_seconds, 120.0);
    guided.hold(40, PULL);
    assert_eq!(guided.words(), "counts");
    assert!(guided.counted() > 30.0);
}

/// The earlier capture was never at 3200 rpm.
#[test]
fn seconds_that_cannot_be_matched_are_not_said_to_count_for_another_step() {
    let before = capture(&[(200, IDLE), (40, CRUISE), (40, PULL)]);
    let mut guided = Guided::new(&[before]);
    guided.hold(10, IDLE).hold(12, CRUISE);
    assert_eq!(guided.words(), "counts for light cruise, not for this step");
    guided.hold(
        10,
        Held {
            rpm: 3200.0,
            ..CRUISE
        },
    );
    assert_eq!(guided.words(), "does not count: the car is moving");
}
