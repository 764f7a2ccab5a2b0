//! Which cylinder misfires and why, by its counter or by a code.

use super::*;

#[test]
fn counters_part_a_lean_cylinder_from_a_weak_coil() {
    let lean = Summary {
        misfires: misfires(&[
            [0.0; 4],
            [1.0, 0.0, 0.0, 0.0],
            [90.0, 2.0, 1.0, 0.0],
            [0.0; 4],
        ]),
        ..summary(&[everywhere(8.0)])
    };
    let diagnosis = judged(&lean);
    let first = &diagnosis.causes[0];
    assert_eq!(
        (first.cause, first.cylinder, first.bank),
        (Cause::InjectorRestricted, Some(3), Some(1)),
        "{}",
        causes_of(&diagnosis)
    );
    assert!(first.probability > 0.6, "{}", causes_of(&diagnosis));
    let severity = first.severity.unwrap();
    // one of four down by 30 % needs +8.1 %
    assert!(severity.low < 30.0 && 20.0 < severity.high, "{severity:?}");
    let weak = Summary {
        misfires: misfires(&[
            [0.0; 4],
            [60.0, 70.0, 150.0, 330.0],
            [0.0; 4],
            [1.0, 0.0, 0.0, 0.0],
        ]),
        ..summary(&[HEALTHY])
    };
    let diagnosis = judged(&weak);
    let first = &diagnosis.causes[0];
    assert_eq!(
        (first.cause, first.cylinder),
        (Cause::IgnitionWeak, Some(2))
    );
    assert!(
        diagnosis.injector_probability() < 0.05,
        "{}",
        causes_of(&diagnosis)
    );
    assert_eq!(diagnosis.cautions.first(), Some(&Caution::Catalyst));
}

#[test]
fn one_cylinder_failing_for_good_is_dead_and_never_cleaned() {
    let dead = Summary {
        misfires: misfires(&[[0.0; 4], [2990.0; 4], [1.0; 4], [0.0; 4]]),
        codes: vec![
            CodeSeen {
                code: "P0202".parse().unwrap(),
                list: CodeList::Stored,
            },
            CodeSeen {
                code: "P0302".parse().unwrap(),
                list: CodeList::Stored,
            },
        ],
        ..summary(&[everywhere(33.0)])
    };
    let diagnosis = judged(&dead);
    let first = &diagnosis.causes[0];
    assert_eq!(
        (first.cause, first.cylinder),
        (Cause::InjectorDead, Some(2))
    );
    assert!(first.probability > 0.9, "{}", causes_of(&diagnosis));
    assert_eq!(diagnosis.treatment[0].action, "replace");
}

#[test]
fn counters_that_never_moved_are_weak_evidence() {
    let with = |counts: Option<MisfireSummary>| {
        judged(&Summary {
            misfires: counts,
            ..summary(&[HEALTHY])
        })
    };
    let silent = with(misfires(&[[0.0; 4]; 4]));
    let alive = with(misfires(&[
        [0.0, 0.0, 0.0, 1.0],
        [0.0; 4],
        [0.0; 4],
        [0.0; 4],
    ]));
    let none = with(None);
    let odds = |diagnosis: &Diagnosis| log_odds(diagnosis, Cause::IgnitionWeak);
    assert!(
        odds(&silent) < odds(&none),
        "{} {}",
        odds(&silent),
        odds(&none)
    );
    assert!(
        odds(&alive) < odds(&silent) - 1.0,
        "{} {}",
        odds(&alive),
        odds(&silent)
    );
}

/// The average of ten driving cycles outlives a repair; present counts weigh more.
#[test]
fn misfires_of_earlier_trips_do_not_convict_a_cylinder_that_runs_well_now() {
    let mut counts = misfires(&[[0.0; 4], [1.0, 0.0, 0.0, 0.0], [0.0; 4], [0.0; 4]]);
    let second = &mut counts.as_mut().unwrap().cylinders[1];
    second.average_of_ten = Some(200.0);
    let repaired = judged(&Summary {
        misfires: counts,
        ..summary(&[HEALTHY])
    });
    assert_eq!(
        repaired.causes[0].cause,
        Cause::NoneFound,
        "{}",
        causes_of(&repaired)
    );
}

#[test]
fn a_code_for_a_cylinder_names_it_without_counters() {
    let named = Summary {
        codes: vec![CodeSeen {
            code: "P0304".parse().unwrap(),
            list: CodeList::Pending,
        }],
        ..summary(&[HEALTHY])
    };
    let diagnosis = judged(&named);
    assert_eq!(diagnosis.misfires.source, diagnosis::MisfireSource::Codes);
    assert_eq!(
        diagnosis.causes[0].cylinder,
        Some(4),
        "{}",
        causes_of(&diagnosis)
    );
    assert!(
        diagnosis.causes[0].cause == Cause::IgnitionWeak,
        "{}",
        causes_of(&diagnosis)
    );
}

/// One of four counters with nearly all misfires stands out; four alike, or a handful, do not.
#[test]
fn a_cylinder_stands_out_only_beyond_chance() {
    let judged = |counts: [f64; 4]| {
        let counted = counts
            .iter()
            .zip(1..)
            .map(|(count, cylinder)| CylinderMisfires {
                cylinder,
                count: *count,
                count_by_region: ByRegion::from_array([count / 4.0; 4]),
                average_of_ten: None,
                counter_high: *count,
                dispersion: 1.0,
            });
        let mut summary = summary(&[]);
        summary.misfires = Some(MisfireSummary {
            revolutions: 40_000.0,
            revolutions_by_region: ByRegion::from_array([10_000.0; 4]),
            cylinders: counted.collect(),
            resets: 0,
        });
        let tables = Tables::standard().unwrap();
        let misfires = diagnose(&[summary], &Vehicle::default(), &tables).misfires;
        misfires
            .standing_out
            .map(|found| (found.cylinder, found.pattern))
    };
    let single = Some(MisfirePattern::Single(2));
    assert_eq!(judged([1.0, 0.0, 57.0, 1.0]), Some((3, single)));
    assert_eq!(
        judged([20.0, 0.0, 60.0, 0.0]),
        Some((3, Some(MisfirePattern::Multiple)))
    );
    assert_eq!(judged([15.0, 14.0, 16.0, 15.0]), None);
    assert_eq!(judged([0.0, 0.0, 2.0, 0.0]), None);
}

/// A dead injector makes its bank of three need 1 / (2 / 3) = +50 %, the other bank nothing: what that one shows at
/// idle and not under load comes from a leak.
#[test]
fn an_old_leak_is_reported_beside_a_dead_injector() {
    let vehicle = Vehicle {
        banks: Some(vec![vec![1, 3, 5], vec![2, 4, 6]]),
        air_metering: Some(AirMetering::Maf),
        ..Vehicle::default()
    };
    let mut counts = [[0.0; 4]; 6];
    counts[2] = [2990.0; 4];
    let leaks = [24.0, 10.0, 5.0, 1.0];
    let dead = leaks.map(|leak| Some(1.5 * (100.0 + leak) - 100.0));
    let both = Summary {
        misfires: misfires(&counts),
        ..summary(&[dead, leaks.map(Some)])
    };
    let diagnosis = with_vehicle(&[both], &vehicle);
    let first = &diagnosis.causes[0];
    assert_eq!(
        (
            first.cause,
            first.cylinder,
            first.second_cause.map(|b| b.cause)
        ),
        (Cause::InjectorDead, Some(3), Some(Cause::IntakeLeak)),
        "{}",
        causes_of(&diagnosis)
    );
}

/// A second cause takes its weight from the first one's, so that all explanations together are as common as the priors say,
/// whatever the number of places and sizes.
#[test]
fn all_explanations_together_weigh_what_the_priors_say() {
    let priors = Tables::standard().unwrap().priors;
    for summaries in [
        vec![summary(&[HEALTHY])],
        vec![Summary {
            misfires: misfires(&[[9.0; 4], [0.0; 4], [2.0; 4], [0.0; 4]]),
            ..summary(&[HEALTHY])
        }],
        vec![summary(&[HEALTHY, HEALTHY])],
    ] {
        let diagnosis = combine::readings(&summaries);
        let car = CarEvidence::new(&summaries, &Vehicle::default(), &diagnosis, None);
        let hypotheses = scoring::hypotheses(&car, &priors);
        let sum: f64 = hypotheses.iter().map(|h| h.log_weight.exp()).sum();
        let of_two_banks = [Cause::IntakeLeakOneBank, Cause::ExhaustBlockedOneBank];
        let possible = |cause: &Cause| car.banks().count() > 1 || !of_two_banks.contains(cause);
        let expected: f64 = Cause::ALL
            .into_iter()
            .filter(possible)
            .map(|cause| priors.weight(cause))
            .sum();
        assert!((sum / expected - 1.0).abs() < 1e-9, "{sum} {expected}");
    }
}
