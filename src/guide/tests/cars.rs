//! What cars do, and how the run answers.

use super::*;
use crate::{
    compare::{Spread, planned_seconds},
    series::label::region::Region,
};

/// By hand. Between trips 0.009² + 0.014² + 0.0078² = 3.38e-4, and 15 % wider leaves 0.3225 of it, 1.09e-4. An idle
/// second is worth 0.005² · 720 = 0.018, so 165 s; a driven one 0.0075, so 69 s. No misfire at all leaves up to
/// −ln 0.025 = 3.689 likely, and 3689 revolutions bring that to 1 in 1000: 295 s at 750 rpm, 89 s at 2500, 111 s at 2000.
#[test]
fn a_region_is_held_for_as_long_as_trims_and_misfires_need() {
    let planned = |region| planned_seconds(region, &Spread::DEFAULT).round();
    assert_eq!(planned(Region::WarmIdle), 295.0);
    assert_eq!(planned(Region::RaisedIdle), 165.0);
    assert_eq!(planned(Region::LightCruise), 111.0);
    assert_eq!(planned(Region::Loaded), 111.0);
    let wanted = Run::default().guidance().steps;
    let wanted = wanted.iter().map(|step| step.progress.wanted_seconds);
    assert_eq!(
        wanted.collect::<Vec<_>>(),
        [0.0, 300.0, 180.0, 120.0, 120.0, 0.0]
    );
}

#[test]
fn a_run_as_it_should_be_goes_through_every_step_and_ends() {
    let mut guided = Guided::new(&[]);
    let mut titles = Vec::new();
    for held in [IDLE, RAISED, CRUISE, PULL] {
        for _ in 0..320 {
            guided.hold(1, held);
            let title = guided.guidance().title;
            if titles.last() != Some(&title) {
                titles.push(title);
            }
        }
    }
    assert_eq!(
        titles,
        [
            "Warm up",
            "Warm idle",
            "2500 rpm",
            "Light cruise",
            "Under load",
            "Finish"
        ]
    );
    let end = guided.guidance();
    assert_eq!(end.standing(), "Enough data recorded.");
    assert_eq!(
        end.whole,
        Progress {
            counted_seconds: 720.0,
            wanted_seconds: 720.0
        }
    );
    assert_eq!(end.feedback, Feedback::Finished);
}

#[test]
fn how_cold_an_engine_is_is_said_and_it_is_waited_for() {
    let mut guided = Guided::new(&[]);
    let warming = |second: u64| Held {
        coolant: (40.0 + second as f64 / 10.0).min(88.0),
        ..IDLE
    };
    guided.moving(225, warming);
    assert_eq!(guided.guidance().title, "Warm up");
    assert_eq!(
        guided.words(),
        "does not count: cold engine (62 °C of 70 °C)"
    );
    guided.moving(150, warming);
    assert_eq!(
        guided.words(),
        "does not count: coolant still warming up (77 °C)"
    );
    guided.moving(200, warming);
    assert_eq!(guided.guidance().title, "Warm idle");
    assert_eq!(guided.words(), "counts");
}

#[test]
fn a_wrong_engine_speed_is_reported_with_what_to_hold() {
    let mut guided = Guided::at("2500 rpm");
    guided.hold(
        10,
        Held {
            rpm: 2150.0,
            ..RAISED
        },
    );
    assert_eq!(
        guided.words(),
        "does not count: 2150 rpm, hold 2300 to 2700 rpm"
    );
    let advice = guided.guidance().feedback.advice();
    assert_eq!(advice.as_deref(), Some("Press the pedal a little more."));
    assert_eq!(guided.counted(), 0.0);
    guided.hold(
        10,
        Held {
            rpm: 2900.0,
            ..RAISED
        },
    );
    let advice = guided.guidance().feedback.advice();
    assert_eq!(advice.as_deref(), Some("Ease the pedal a little."));
    guided.hold(20, RAISED);
    assert_eq!(guided.words(), "counts");
    let counted = guided.counted();
    assert!((15.0..=18.0).contains(&counted), "{counted}");
}

#[test]
fn a_wandering_pedal_is_to_be_held_still() {
    let mut guided = Guided::at("Light cruise");
    guided.moving(20, |second| Held {
        load: if second % 4 < 2 { 30.0 } else { 48.0 },
        ..CRUISE
    });
    assert_eq!(guided.words(), "does not count: speed or load is changing");
    let advice = guided.guidance().feedback.advice();
    assert_eq!(advice.as_deref(), Some("Hold the pedal still."));
    assert_eq!(guided.counted(), 0.0);
}

#[test]
fn open_loop_and_overrun_are_distinguished_with_what_helps() {
    let mut guided = Guided::at("Warm idle");
    guided.hold(
        10,
        Held {
            status: 1.0,
            ..IDLE
        },
    );
    assert_eq!(guided.words(), "does not count: not in closed loop yet");

    let mut guided = Guided::at("Under load");
    let floored = Held {
        load: 92.0,
        status: 4.0,
        ..PULL
    };
    guided.hold(10, floored);
    assert_eq!(guided.words(), "does not count: open loop at high load");

    let mut guided = Guided::at("Light cruise");
    let overrun = Held {
        load: 12.0,
        status: 4.0,
        short: 0.0,
        ..CRUISE
    };
    guided.hold(10, overrun);
    assert_eq!(guided.words(), "does not count: overrun, no fuel injected");
    let advice = guided.guidance().feedback.advice();
    assert_eq!(advice.as_deref(), Some("Press the pedal lightly."));
}

#[test]
fn the_wrong_place_is_reported_before_anything_else() {
    let creeping = Held { km_h: 8.0, ..IDLE };
    for (title, held, words) in [
        ("Warm idle", creeping, "does not count: the car is moving"),
        (
            "Light cruise",
            IDLE,
            "does not count: the car stands or creeps",
        ),
        (
            "Under load",
            CRUISE,
            "does not count: load 35 %, hold 55 % or more",
        ),
        (
            "Light cruise",
            PULL,
            "counts for under load, not for this step",
        ),
    ] {
        let mut guided = Guided::at(title);
        guided.hold(4, held);
        let counted = guided.counted();
        guided.hold(10, held);
        assert_eq!(guided.words(), words, "{title}");
        assert_eq!(guided.counted(), counted, "{title}");
    }
}

/// Idle first, says the run; the car is on the road already.
#[test]
fn what_counts_for_a_later_step_is_not_called_lost() {
    let mut guided = Guided::new(&[]);
    guided.hold(60, CRUISE);
    assert_eq!(guided.guidance().title, "Warm idle");
    assert_eq!(guided.words(), "counts for light cruise, not for this step");
    guided.hold(100, CRUISE);
    assert_eq!(
        guided.words(),
        "does not count: the car is moving",
        "enough of it"
    );
}

#[test]
fn a_step_begins_with_its_own_words() {
    let mut guided = Guided::at("Warm idle");
    while guided.guidance().title == "Warm idle" {
        guided.hold(1, IDLE);
    }
    assert_eq!(
        guided.words(),
        "does not count: 750 rpm, hold 2300 to 2700 rpm"
    );
    guided.run.skip();
    assert_eq!(guided.words(), "does not count: the car stands or creeps");
}

#[test]
fn seconds_held_by_the_way_are_not_asked_for_again() {
    let mut guided = Guided::new(&[]);
    guided.hold(150, CRUISE).hold(310, IDLE).hold(190, RAISED);
    assert_eq!(guided.guidance().title, "Under load");
}

#[test]
fn a_stalled_engine_and_a_car_without_road_speed_are_reported() {
    let mut guided = Guided::at("Warm idle");
    guided.hold(10, Held { rpm: 0.0, ..IDLE });
    assert_eq!(guided.words(), "does not count: the engine is off");

    let mut guided = Guided::new(&[]);
    for second in 0..30 {
        for (item, value) in readings(second, RAISED) {
            let t_us = second * 1_000_000;
            if item != Item::current(Pid::VEHICLE_SPEED) {
                guided.builder.push(Observation { t_us, item, value });
            }
            guided.follow();
        }
        if guided.guidance().title == "Warm idle" {
            guided.run.skip();
        }
    }
    assert_eq!(guided.guidance().title, "2500 rpm");
    assert_eq!(guided.words(), "does not count: no road speed reading");
}
