//! Skip, repeat, back; and anything in any order.

use crate::bank::ByBank;
use std::sync::LazyLock;

use proptest::prelude::*;

use super::*;
use crate::{
    guide::step::Task,
    series::{
        gather::cell::Cell,
        label::{Label, region::Region},
        timeline::course::{Running, Second},
    },
};

fn status(guided: &Guided, title: &str) -> Status {
    let steps = guided.guidance().steps;
    steps
        .iter()
        .find(|step| step.title == title)
        .unwrap()
        .status
}

#[test]
fn a_step_left_out_is_not_wanted_any_more_and_comes_back_when_gone_back_to() {
    let mut guided = Guided::at("2500 rpm");
    let wanted = guided.guidance().whole.wanted_seconds;
    guided.run.skip();
    assert_eq!(guided.guidance().title, "Light cruise");
    assert_eq!(status(&guided, "2500 rpm"), Status::Skipped);
    assert_eq!(guided.guidance().whole.wanted_seconds, wanted - 180.0);
    guided.run.back();
    assert_eq!(guided.guidance().title, "2500 rpm");
    assert_eq!(guided.guidance().whole.wanted_seconds, wanted);
    guided.hold(190, RAISED);
    assert_eq!(status(&guided, "2500 rpm"), Status::Done);
    assert_eq!(guided.guidance().title, "Light cruise");
}

#[test]
fn a_step_asked_for_again_is_held_once_more_on_top_of_what_counted() {
    let mut guided = Guided::at("Light cruise");
    guided.hold(130, CRUISE);
    assert_eq!(guided.guidance().title, "Under load");
    guided.run.back();
    guided.hold(5, CRUISE);
    assert_eq!(guided.guidance().title, "Light cruise", "gone back to look");
    guided.run.repeat();
    let counted = guided.counted();
    assert!(counted >= 120.0, "{counted}");
    assert_eq!(guided.guidance().progress.wanted_seconds, counted + 120.0);
    guided.hold(115, CRUISE);
    assert_eq!(guided.guidance().title, "Light cruise");
    guided.hold(10, CRUISE);
    assert_eq!(guided.guidance().title, "Under load");
}

#[test]
fn keys_at_either_end_do_no_harm() {
    let mut run = Run::default();
    run.back();
    run.repeat();
    assert_eq!(run.guidance().number, 1);
    for _ in 0..20 {
        run.skip();
    }
    run.repeat();
    assert_eq!(run.guidance().task, Task::Finish);
    assert_eq!(run.guidance().whole.wanted_seconds, 0.0);
}

#[test]
fn a_run_with_steps_skipped_does_not_claim_enough_data() {
    let mut guided = Guided::at("Warm idle");
    for _ in 0..4 {
        guided.run.skip();
    }
    assert_eq!(guided.guidance().task, Task::Finish);
    let skipped = "Skipped: warm idle, 2500 rpm, light cruise, under load.";
    assert_eq!(guided.guidance().standing(), skipped);
    // back at the last one, it is to be done again
    guided.run.back();
    guided.hold(20, PULL);
    let standing = guided.guidance().standing();
    assert!(
        standing
            .starts_with("Skipped: warm idle, 2500 rpm, light cruise. Not finished: under load "),
        "{standing}"
    );
}

#[derive(Debug, Clone)]
enum Happening {
    Second(Label, Option<Region>, Running),
    Skip,
    Repeat,
    Back,
}

fn happening() -> impl Strategy<Value = Happening> {
    let number = |most: f64| {
        prop_oneof![
            4 => (0.0..most).prop_map(Some),
            1 => Just(None),
            1 => Just(Some(f64::NAN)),
            1 => Just(Some(f64::INFINITY)),
        ]
    };
    let running = (number(7000.0), number(150.0), number(100.0), number(120.0)).prop_map(
        |(engine_rpm, speed_km_h, load_pct, coolant_c)| Running {
            engine_rpm,
            speed_km_h,
            load_pct,
            coolant_c,
        },
    );
    let label = prop_oneof![
        1 => prop::sample::select(Label::ALL.to_vec()),
        4 => Just(Label::Used),
    ];
    let region = prop::option::of(prop::sample::select(Region::ALL.to_vec()));
    prop_oneof![
        30 => (label, region, running).prop_map(|(l, r, n)| Happening::Second(l, r, n)),
        1 => Just(Happening::Skip),
        1 => Just(Happening::Repeat),
        1 => Just(Happening::Back),
    ]
}

static EARLIER: LazyLock<[Summary; 1]> =
    LazyLock::new(|| [capture(&[(60, IDLE), (50, CRUISE), (40, PULL)])]);

proptest! {
    #[test]
    fn nothing_that_happens_loses_counted_seconds(
        happenings in prop::collection::vec(happening(), 0..400),
        compared in any::<bool>(),
    ) {
        let mut run = Run::new(if compared { &*EARLIER } else { &[] });
        let mut before = run.guidance();
        for (second, happening) in (0..).zip(happenings) {
            match happening {
                Happening::Second(label, region, running) => {
                    let cell = running.engine_rpm.zip(running.load_pct);
                    run.advance(&Second {
                        second,
                        label,
                        region,
                        cell: cell.map(|(rpm, load)| Cell::at(rpm, load)),
                        running,
                        trim_log: ByBank::from_array([Some(0.01), None, None, None]),
                    }, &running);
                }
                Happening::Skip => run.skip(),
                Happening::Repeat => run.repeat(),
                Happening::Back => run.back(),
            }
            let now = run.guidance();
            prop_assert!(now.whole.counted_seconds >= before.whole.counted_seconds);
            prop_assert!(now.whole.counted_seconds <= now.whole.wanted_seconds);
            for (one, two) in before.steps.iter().zip(&now.steps) {
                prop_assert!(two.progress.counted_seconds >= one.progress.counted_seconds);
            }
            prop_assert!((1..=now.of).contains(&now.number));
            prop_assert!(!now.feedback.to_string().is_empty());
            before = now;
        }
    }
}
