//! The guided run over whole trips: of simulated cars, and over real logs when they are there.

use pintle::{
    capture::{Fact, Observations},
    compare::{FuelAnswer, Limits, compare},
    guide::{Feedback, Guidance, Reason, Run, Status, step::Task},
    import::import,
    series::{Builder, Observation, label::region::Region, summary::Summary},
    simulator::car::{
        Car, fleet,
        trip::{Driving, Stretch, Trip},
    },
};
use pintle_protocol::{Item, Pid};

use crate::harness::{Workbench, real_logs};

/// Time between two rounds of asking, µs.
const ROUND_US: u64 = 500_000;

/// Service 01 parameters and their values by SAE J1979.
fn value(pid: u8, data: &[u8]) -> f64 {
    let a = f64::from(data[0]);
    match pid {
        0x04 => a * 100.0 / 255.0,
        0x05 => a - 40.0,
        0x06 | 0x07 => a * 100.0 / 128.0 - 100.0,
        0x0C => (a * 256.0 + f64::from(data[1])) / 4.0,
        _ => a,
    }
}

/// As a screen does after every reading.
fn follow(run: &mut Run, builder: &mut Builder) {
    let running = builder.running();
    for second in builder.drain_course() {
        run.advance(&second, &running);
    }
}

/// What the run told, second by second.
struct Told {
    guidance: Vec<Guidance>,
    summary: Summary,
}

impl Told {
    fn last(&self) -> &Guidance {
        self.guidance.last().unwrap()
    }

    fn titles(&self) -> Vec<&'static str> {
        let mut titles: Vec<_> = self.guidance.iter().map(|one| one.title).collect();
        titles.dedup();
        titles
    }

    fn told(&self, wanted: fn(&Reason) -> bool) -> usize {
        let reasons = self.guidance.iter();
        let reasons =
            reasons.filter(|one| matches!(one.feedback, Feedback::Not(reason) if wanted(&reason)));
        reasons.count()
    }
}

/// A car driven by its schedule, whatever the run says.
fn driven(car: &str, trip: Trip, before: &[Summary]) -> Told {
    let end_us = trip.duration_us();
    let mut car = Car::new(fleet::car(car).unwrap(), &[], trip, 7).unwrap();
    let (mut builder, mut run) = (Builder::keeping_course(), Run::new(before));
    let mut guidance = Vec::new();
    for round in 0..end_us / ROUND_US {
        let t_us = round * ROUND_US;
        car.advance_to(t_us);
        for pid in [0x0C, 0x0D, 0x04, 0x05, 0x03, 0x06, 0x07] {
            let answers = car.answer(&[0x01, pid]);
            let Some([0x41, _, data @ ..]) = answers.first().map(|answer| &answer.payload[..])
            else {
                continue;
            };
            let (item, value) = (Item::current(Pid(pid)), value(pid, data));
            builder.push(Observation { t_us, item, value });
        }
        follow(&mut run, &mut builder);
        if round % 2 == 0 {
            guidance.push(run.guidance());
        }
    }
    Told {
        guidance,
        summary: builder.finish(),
    }
}

fn road(km_h: f64, grade_pct: f64) -> Driving {
    Driving::Road { km_h, grade_pct }
}

/// What the run asks for, held a little longer each.
fn as_asked(seed: u64) -> Trip {
    let stretch = |(driving, seconds)| Stretch { driving, seconds };
    let mut trip = Trip::warm(seed);
    trip.compressor = false;
    trip.stretches = [
        (Driving::Parked, 2.0),
        (Driving::Idle, 340.0),
        (Driving::Hold { rpm: 2500.0 }, 220.0),
        (road(70.0, 0.0), 240.0),
        (road(75.0, 5.0), 200.0),
        (Driving::Idle, 30.0),
    ]
    .map(stretch)
    .to_vec();
    trip
}

#[test]
fn a_car_driven_as_asked_is_led_through_to_the_end() {
    for car in ["van3", "van7", "wagon2", "pickup1", "hatch5"] {
        let told = driven(car, as_asked(3), &[]);
        let last = told.last();
        assert_eq!(last.task, Task::Finish, "{car}: {:?}", last.steps);
        assert_eq!(last.whole.counted_seconds, last.whole.wanted_seconds);
        let done = last
            .steps
            .iter()
            .take(5)
            .all(|step| step.status == Status::Done);
        assert!(done, "{car}: {:?}", last.steps);
    }
}

#[test]
fn a_cold_start_is_waited_for_and_reported() {
    let told = driven("van3", Trip::cold(4), &[]);
    assert_eq!(told.titles()[..2], ["Warm up", "Warm idle"]);
    assert!(told.told(|reason| matches!(reason, Reason::Cold { .. })) > 60);
    let climbs = told
        .guidance
        .windows(2)
        .all(|pair| pair[1].whole.counted_seconds >= pair[0].whole.counted_seconds);
    assert!(climbs);
}

/// What the run calls matched is what the comparison then matches.
#[test]
fn the_run_counts_as_matched_what_a_comparison_then_matches() {
    let before = [
        driven("van3", Trip::warm(11), &[]).summary,
        driven("van3", Trip::short(12), &[]).summary,
    ];
    let told = driven("van3", as_asked(13), &before);
    let last = told.last();
    let comparison = compare(
        &before,
        std::slice::from_ref(&told.summary),
        &Limits::default(),
        FuelAnswer::Unknown,
    );
    let mut held = 0;
    for (step, region) in last.steps[1..5].iter().zip(Region::ALL) {
        let cells = comparison.cells.iter();
        let cells = cells.filter(|cell| cell.region == region);
        let lesser = cells.map(|cell| cell.before_seconds.min(cell.after_seconds));
        let matched: f64 = lesser.sum();
        let counted = step.progress.counted_seconds;
        let wanted = step.progress.wanted_seconds;
        // the last three seconds of a trip are judged when it ends
        assert!(
            matched + 0.5 >= counted,
            "{region:?}: {counted} of {matched}"
        );
        assert!(
            counted >= wanted || matched <= counted + 4.0,
            "{region:?}: {counted} of {matched}"
        );
        held += u32::from(counted >= wanted);
    }
    assert!(held >= 2, "{:?}", last.steps);
    let open = last.wanted.iter();
    assert!(open.clone().all(|cell| cell.seconds < cell.wanted_seconds));
    let first = told.guidance[0].wanted.len();
    assert!(open.count() < first / 2, "most cells have been visited");
}

/// Real logs of one car: led along the earlier ones, and by the book.
#[test]
fn real_drives_fill_what_they_drove() {
    let Some(folder) = real_logs() else { return };
    let bench = Workbench::new();
    let read = |name: &str, before: &[Summary]| {
        let capture = bench
            .path()
            .join(format!("{name}-{}.capture.csv", before.len()));
        import(
            &folder.join(format!("{name}.csv")),
            None,
            None,
            &capture,
            |_| (),
        )
        .unwrap();
        let (mut builder, mut run) = (Builder::keeping_course(), Run::new(before));
        let observations = Observations::open(&capture).unwrap();
        observations
            .for_each(|fact| {
                if let Fact::Reading(reading) = fact {
                    builder.push(reading);
                    follow(&mut run, &mut builder);
                }
            })
            .unwrap();
        (run.guidance(), builder.finish())
    };
    let seconds = |summary: &Summary, region: Region| {
        let mut operation = summary.operation.iter();
        operation
            .find(|operation| operation.region == region)
            .map_or(0.0, |operation| operation.seconds)
    };
    let (alone, drive) = read("drive4", &[]);
    for (step, region) in alone.steps[1..5].iter().zip(Region::ALL) {
        let (counted, driven) = (step.progress.counted_seconds, seconds(&drive, region));
        println!("{region:?}: {counted} of {driven}");
        assert!(counted <= driven + 0.5, "{region:?}");
        if region != Region::RaisedIdle {
            let least = driven.min(step.progress.wanted_seconds) - 4.0;
            assert!(counted >= least, "{region:?}: {counted} of {driven}");
        }
    }
    let (led, _) = read("drive10", std::slice::from_ref(&drive));
    for (step, region) in led.steps[1..5].iter().zip(Region::ALL) {
        let (progress, earlier) = (step.progress, seconds(&drive, region));
        println!("{region:?}: {progress:?}, earlier {earlier}");
        // no more can be matched than was driven
        assert!(progress.counted_seconds <= earlier, "{region:?}");
        assert!(
            earlier < 30.0 || progress.wanted_seconds <= earlier,
            "{region:?}"
        );
    }
    assert!(led.whole.counted_seconds > 0.0);
}
