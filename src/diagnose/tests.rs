//! Judging summaries made by hand: what must lead, and what must stay open.

use proptest::prelude::*;

use super::*;
use crate::{
    cause::Cause,
    caution::Caution,
    series::{
        region::Region,
        summary::{
            CodeList, CodeSeen, CylinderMisfires, Facts, MisfireSummary, Operation, Seconds,
            TrimSummary,
        },
    },
    statistics::poisson::MisfirePattern,
    vehicle::AirMetering,
};

mod bench;

/// Corrections of one bank in percent at warm idle, raised idle, light cruise and load; a region
/// not visited is `None`.
type Corrections = [Option<f64>; 4];

const HEALTHY: Corrections = [Some(-1.0), Some(0.0), Some(1.0), Some(-2.0)];

fn everywhere(pct: f64) -> Corrections {
    [Some(pct); 4]
}

/// Five minutes in each region visited, on a car that shows its air flow.
fn summary(banks: &[Corrections]) -> Summary {
    let mut trims = Vec::new();
    for (bank, corrections) in (1..).zip(banks) {
        for (region, pct) in Region::ALL.into_iter().zip(corrections) {
            trims.extend(pct.map(|pct| trim(bank, region, pct)));
        }
    }
    let air = [3.2, 7.7, 14.0, 29.0];
    let rpm = [750.0, 2500.0, 2000.0, 2300.0];
    let operation = |index: usize| Operation {
        region: Region::ALL[index],
        seconds: 300.0,
        engine_rpm: rpm[index],
        load_pct: Some([28.0, 26.0, 45.0, 75.0][index]),
        absolute_load_pct: None,
        manifold_kpa: None,
        air_g_per_s: Some(air[index]),
        purge_pct: None,
        spark_deg: None,
    };
    Summary {
        seconds: Seconds {
            total: 1300.0,
            used: 1200.0,
            ..Seconds::default()
        },
        trims,
        operation: (0..4).map(operation).collect(),
        facts: Facts {
            banks: banks.len() as u8,
            air_flow_seen: true,
            ..Facts::default()
        },
        ..Summary::default()
    }
}

fn trim(bank: u8, region: Region, pct: f64) -> TrimSummary {
    TrimSummary {
        bank,
        region,
        mean_log: (pct / 100.0).ln_1p(),
        std_error_log: 0.008,
        seconds: 300.0,
        readings: 300,
        freedom: 10.0,
        effective_readings: 20.0,
        at_stop: 0.0,
        without_misfire: None,
    }
}

/// Counts by cylinder and region in 6000 revolutions a region.
fn misfires(counts: &[[f64; 4]]) -> Option<MisfireSummary> {
    let cylinders = (1..)
        .zip(counts)
        .map(|(cylinder, by_region)| CylinderMisfires {
            cylinder,
            count: by_region.iter().sum(),
            count_by_region: *by_region,
            average_of_ten: None,
            counter_high: by_region.iter().sum(),
            dispersion: 1.0,
        });
    Some(MisfireSummary {
        revolutions: 24_000.0,
        revolutions_by_region: [6000.0; 4],
        cylinders: cylinders.collect(),
        resets: 0,
    })
}

fn judged(summary: &Summary) -> Diagnosis {
    with_vehicle(std::slice::from_ref(summary), &Vehicle::default())
}

fn with_vehicle(summaries: &[Summary], vehicle: &Vehicle) -> Diagnosis {
    let diagnosis = diagnose(summaries, vehicle, &Tables::standard().unwrap());
    let sum: f64 = diagnosis
        .causes
        .iter()
        .map(|finding| finding.probability)
        .sum();
    assert!(
        diagnosis.causes.is_empty() || (sum - 1.0).abs() < 1e-9,
        "{sum}"
    );
    diagnosis
}

fn told(diagnosis: &Diagnosis) -> String {
    let of = diagnosis.causes.iter().take(8).map(|finding| {
        let (cause, cylinder, bank) = (finding.cause, finding.cylinder, finding.bank);
        format!("{cause} {cylinder:?} {bank:?} {:.3}", finding.probability)
    });
    of.collect::<Vec<_>>().join("\n")
}

fn log_odds(diagnosis: &Diagnosis, cause: Cause) -> f64 {
    (diagnosis.probability_of(cause) / diagnosis.probability_of(Cause::NoneFound)).ln()
}

#[test]
fn with_nothing_read_the_odds_are_how_common_causes_are() {
    let diagnosis = judged(&Summary::default());
    let priors = Tables::standard().unwrap().priors;
    let expected = |cause| (priors.weight(cause) / priors.weight(Cause::NoneFound)).ln();
    for cause in [
        Cause::InjectorRestricted,
        Cause::IntakeLeak,
        Cause::IgnitionWeak,
    ] {
        // a little more for those that may be the first of two faults
        let more = log_odds(&diagnosis, cause) - expected(cause);
        assert!((-1e-9..0.4).contains(&more), "{cause}: {more}");
    }
    assert!(
        diagnosis
            .causes
            .iter()
            .all(|finding| finding.evidence.is_empty())
    );
    assert!(
        diagnosis
            .warnings
            .iter()
            .any(|warning| warning.contains("Too little"))
    );
    // causes that need two banks are out on one
    assert_eq!(diagnosis.probability_of(Cause::ExhaustBlockedOneBank), 0.0);
}

#[test]
fn an_even_surplus_on_a_metered_car_stays_open_between_its_look_alikes() {
    let diagnosis = judged(&summary(&[everywhere(14.0)]));
    let odds = |cause| diagnosis.probability_of(cause);
    let alike = [
        Cause::InjectorRestricted,
        Cause::InjectorsRestrictedSeveral,
        Cause::AirMeterLow,
        Cause::FuelPressureLow,
        Cause::FuelBlend,
    ];
    let sum: f64 = alike.into_iter().map(odds).sum();
    assert!(sum > 0.85, "{}", told(&diagnosis));
    for cause in alike {
        assert!((0.03..0.6).contains(&odds(cause)), "{}", told(&diagnosis));
    }
    assert!(diagnosis.next_checks.iter().any(|next| next.bits > 0.2));
}

#[test]
fn a_leak_fades_with_flow_on_a_metered_car_and_cannot_be_seen_by_manifold_pressure() {
    let fading = summary(&[[Some(15.0), Some(6.5), Some(4.5), Some(0.5)]]);
    let metered = judged(&fading);
    assert!(
        metered.probability_of(Cause::IntakeLeak) > 0.5,
        "{}",
        told(&metered)
    );
    let vehicle = Vehicle {
        air_metering: Some(AirMetering::Map),
        ..Vehicle::default()
    };
    let by_pressure = with_vehicle(std::slice::from_ref(&fading), &vehicle);
    assert!(
        by_pressure.probability_of(Cause::IntakeLeak) < 0.1,
        "{}",
        told(&by_pressure)
    );
    assert_eq!(
        by_pressure.causes[0].cause,
        Cause::ExhaustLeak,
        "{}",
        told(&by_pressure)
    );
}

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
        told(&diagnosis)
    );
    assert!(first.probability > 0.6, "{}", told(&diagnosis));
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
        told(&diagnosis)
    );
    assert_eq!(diagnosis.cautions.first(), Some(&Caution::Catalyst));
}

#[test]
fn one_cylinder_failing_for_good_is_dead_and_never_cleaned() {
    let dead = Summary {
        misfires: misfires(&[[0.0; 4], [2990.0; 4], [1.0; 4], [0.0; 4]]),
        codes: vec![
            CodeSeen {
                code: "P0202".into(),
                list: CodeList::Stored,
            },
            CodeSeen {
                code: "P0302".into(),
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
    assert!(first.probability > 0.9, "{}", told(&diagnosis));
    assert_eq!(diagnosis.treatment[0].action, "replace");
}

#[test]
fn on_two_banks_the_difference_tells_which() {
    let lean = summary(&[HEALTHY, everywhere(20.0)]);
    let diagnosis = judged(&lean);
    let on_bank_two: f64 = diagnosis
        .causes
        .iter()
        .filter(|finding| finding.cause.is_injector() && finding.bank == Some(2))
        .map(|finding| finding.probability)
        .sum();
    assert!(on_bank_two > 0.9, "{}", told(&diagnosis));
    let evidence = &diagnosis.causes[0].evidence;
    assert!(
        evidence
            .iter()
            .any(|piece| piece.what.contains("bank 2") && piece.log_odds > 3.0)
    );
    let parting = summary(&[
        [Some(-1.0), Some(-2.0), Some(-4.0), Some(-20.0)],
        [Some(-1.0), Some(2.5), Some(6.0), Some(16.0)],
    ]);
    let diagnosis = judged(&parting);
    assert_eq!(diagnosis.causes[0].cause, Cause::ExhaustBlockedOneBank);
    assert_eq!(diagnosis.causes[0].bank, Some(1), "{}", told(&diagnosis));
}

#[test]
fn both_banks_alike_speak_for_what_they_share() {
    let rising = [Some(9.0), Some(12.0), Some(16.0), Some(26.0)];
    let diagnosis = judged(&summary(&[rising, rising]));
    assert_eq!(
        diagnosis.causes[0].cause,
        Cause::FuelPressureLow,
        "{}",
        told(&diagnosis)
    );
    let falling = [Some(-11.0), Some(-4.0), Some(-2.0), Some(-2.0)];
    let diagnosis = judged(&summary(&[falling, falling]));
    assert_eq!(
        diagnosis.causes[0].cause,
        Cause::PurgeStuck,
        "{}",
        told(&diagnosis)
    );
}

/// A correction at its stop is a lower bound: what would need more explains it as well, what needs
/// less does not.
#[test]
fn a_correction_at_its_stop_speaks_against_small_causes_only() {
    let mut stopped = summary(&[everywhere(25.0)]);
    for trim in &mut stopped.trims {
        trim.at_stop = 1.0;
    }
    let free = judged(&summary(&[everywhere(25.0)]));
    let stopped = judged(&stopped);
    let dead = |diagnosis: &Diagnosis| log_odds(diagnosis, Cause::InjectorDead);
    assert!(dead(&stopped) > dead(&free));
    assert!(
        stopped.probability_of(Cause::NoneFound) < 0.01,
        "{}",
        told(&stopped)
    );
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

/// The average of ten driving cycles outlives a repair; what is watched now counts for more.
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
        told(&repaired)
    );
}

#[test]
fn a_second_trip_settles_more_but_not_the_look_alikes() {
    let trip = summary(&[everywhere(9.0)]);
    let one = with_vehicle(std::slice::from_ref(&trip), &Vehicle::default());
    let two = with_vehicle(&[trip.clone(), trip], &Vehicle::default());
    let none = |diagnosis: &Diagnosis| diagnosis.probability_of(Cause::NoneFound);
    assert!(none(&two) < none(&one), "{}\n\n{}", told(&one), told(&two));
    assert!(two.causes[0].probability < 0.7, "{}", told(&two));
    assert_eq!(two.trims[0].seconds, 600.0);
}

#[test]
fn a_direct_injection_rail_is_warned_of_wherever_the_fuel_system_is_opened() {
    let direct = Vehicle {
        injection: Some(crate::vehicle::Injection::Direct),
        ..Vehicle::default()
    };
    let diagnosis = with_vehicle(&[summary(&[everywhere(14.0)])], &direct);
    assert!(diagnosis.cautions.contains(&Caution::HighPressureRail));
    let port = judged(&summary(&[everywhere(14.0)]));
    assert!(!port.cautions.contains(&Caution::HighPressureRail));
}

#[test]
fn diesel_is_not_judged_and_says_so() {
    let mut diesel = summary(&[]);
    diesel.facts.not_judged = Some(NotJudged::Diesel);
    let diagnosis = judged(&diesel);
    assert!(diagnosis.causes.is_empty() && diagnosis.next_checks.is_empty());
    assert_eq!(diagnosis.not_judged, Some(NotJudged::Diesel));
}

#[test]
fn a_code_for_a_cylinder_names_it_without_counters() {
    let named = Summary {
        codes: vec![CodeSeen {
            code: "P0304".into(),
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
        told(&diagnosis)
    );
    assert!(
        diagnosis.causes[0].cause == Cause::IgnitionWeak,
        "{}",
        told(&diagnosis)
    );
}

/// A table with a cause left out or a number out of range is refused with its name.
#[test]
fn a_broken_table_is_refused() {
    let standard = include_str!("prior.toml");
    let without = standard.replace("[purge_stuck]", "[purge_stuk]");
    assert!(
        Priors::from_toml(&without)
            .unwrap_err()
            .to_string()
            .contains("purge_stuk")
    );
    let negative = standard.replace("weight = 0.3\n", "weight = -1\n");
    let error = Priors::from_toml(&negative).unwrap_err();
    assert_eq!(
        error.to_string(),
        "none_found: expected a weight of 0 or more"
    );
}

/// Any number, broken ones too.
fn number() -> impl Strategy<Value = f64> {
    prop_oneof![
        8 => -0.6..0.6_f64,
        1 => Just(f64::NAN),
        1 => Just(f64::INFINITY),
        1 => -1e9..1e9_f64,
    ]
}

fn any_summary() -> impl Strategy<Value = Summary> {
    let trims = proptest::collection::vec((1..6_u8, 0..4_usize, number(), number()), 0..8);
    let counts = proptest::collection::vec((0..20_u8, 0.0..1e5_f64), 0..6);
    let code = prop_oneof!["P0[0-3][0-9]{2}", "P2[01][9A][0-9A-F]", "[A-Z]{0,3}"];
    let codes = proptest::collection::vec(code, 0..3);
    (trims, counts, codes, 0.0..1e6_f64, 0..5_u8).prop_map(
        |(trims, counts, codes, revolutions, banks)| {
            let trims = trims
                .into_iter()
                .map(|(bank, region, mean_log, std_error_log)| TrimSummary {
                    mean_log,
                    std_error_log: std_error_log.abs(),
                    at_stop: std_error_log.clamp(0.0, 1.0),
                    ..trim(bank, Region::ALL[region], 0.0)
                });
            let cylinders = counts
                .into_iter()
                .map(|(cylinder, count)| CylinderMisfires {
                    cylinder,
                    count,
                    count_by_region: [count / 4.0; 4],
                    average_of_ten: Some(count),
                    counter_high: count,
                    dispersion: 1.0 + count / 100.0,
                });
            Summary {
                trims: trims.collect(),
                misfires: Some(MisfireSummary {
                    revolutions,
                    revolutions_by_region: [revolutions / 5.0; 4],
                    cylinders: cylinders.collect(),
                    resets: 0,
                }),
                codes: codes
                    .into_iter()
                    .map(|code| CodeSeen {
                        code,
                        list: CodeList::Stored,
                    })
                    .collect(),
                facts: Facts {
                    banks,
                    ..Facts::default()
                },
                ..summary(&[])
            }
        },
    )
}

proptest! {
    // one takes more than half a second unless the build is optimized
    #![proptest_config(ProptestConfig::with_cases(if cfg!(debug_assertions) { 4 } else { 96 }))]

    /// Whatever is in the summaries, the odds are odds.
    #[test]
    fn any_summaries_give_odds_that_sum_to_one(
        summaries in proptest::collection::vec(any_summary(), 1..3),
        layout in prop_oneof![
            Just(None),
            Just(Some(vec![vec![1, 2, 3, 4]])),
            Just(Some(vec![vec![1, 3], vec![2, 4]])),
        ],
    ) {
        let vehicle = Vehicle { banks: layout, ..Vehicle::default() };
        let diagnosis = with_vehicle(&summaries, &vehicle);
        for finding in &diagnosis.causes {
            prop_assert!((0.0..=1.0 + 1e-9).contains(&finding.probability));
            let finite = finding.evidence.iter().all(|piece| piece.log_odds.is_finite());
            prop_assert!(finite, "{finding:?}");
        }
        prop_assert!(diagnosis.next_checks.iter().all(|next| next.bits.is_finite()));
    }
}

/// One of four counters with nearly everything stands out; four alike, or a handful, do not.
#[test]
fn a_cylinder_stands_out_only_beyond_chance() {
    let judged = |counts: [f64; 4]| {
        let counted = counts
            .iter()
            .zip(1..)
            .map(|(count, cylinder)| CylinderMisfires {
                cylinder,
                count: *count,
                count_by_region: [count / 4.0; 4],
                average_of_ten: None,
                counter_high: *count,
                dispersion: 1.0,
            });
        let mut summary = summary(&[]);
        summary.misfires = Some(MisfireSummary {
            revolutions: 40_000.0,
            revolutions_by_region: [10_000.0; 4],
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
