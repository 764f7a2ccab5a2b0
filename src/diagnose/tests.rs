//! Summaries made by hand are judged: which cause must lead, and what must stay open.

use super::{
    diagnosis::{FlowOutcome, InjectorAdvice, Warning},
    *,
};
use crate::{
    cause::Cause,
    caution::Caution,
    series::{
        label::region::{ByRegion, Region},
        summary::{
            CodeList, CodeSeen, CylinderMisfires, Facts, MisfireSummary, Operation, Seconds,
            TrimSummary,
        },
    },
    statistics::poisson::MisfirePattern,
    vehicle::AirMetering,
};

mod any;
mod bench;
mod misfires;
mod port;

/// Total fuel trims of one bank in percent at warm idle, 2500 rpm without load, light cruise and load; `None` where a
/// region was not recorded.
type FuelTrims = [Option<f64>; 4];

/// Total fuel trims of a healthy bank, percent by region.
const HEALTHY: FuelTrims = [Some(-1.0), Some(0.0), Some(1.0), Some(-2.0)];

fn everywhere(pct: f64) -> FuelTrims {
    [Some(pct); 4]
}

/// A summary with five minutes in each region recorded, of a car that reports its air flow.
fn summary(banks: &[FuelTrims]) -> Summary {
    let mut trims = Vec::new();
    for (bank, fuel_trims) in (1..).zip(banks) {
        for (region, pct) in Region::ALL.into_iter().zip(fuel_trims) {
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
        degrees_of_freedom: 10.0,
        effective_readings: 20.0,
        saturated: 0.0,
        without_misfire: None,
    }
}

/// Misfire counts by cylinder and region in 6000 revolutions a region.
fn misfires(counts: &[[f64; 4]]) -> Option<MisfireSummary> {
    let cylinders = (1..)
        .zip(counts)
        .map(|(cylinder, by_region)| CylinderMisfires {
            cylinder,
            count: by_region.iter().sum(),
            count_by_region: ByRegion::from_array(*by_region),
            average_of_ten: None,
            counter_high: by_region.iter().sum(),
            dispersion: 1.0,
        });
    Some(MisfireSummary {
        revolutions: 24_000.0,
        revolutions_by_region: ByRegion::from_array([6000.0; 4]),
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

fn causes_of(diagnosis: &Diagnosis) -> String {
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
        let more = log_odds(&diagnosis, cause) - expected(cause);
        assert!(more.abs() < 1e-9, "{cause}: {more}");
    }
    assert!(
        diagnosis
            .causes
            .iter()
            .all(|finding| finding.evidence.is_empty())
    );
    assert!(diagnosis.warnings.contains(&Warning::MostlyPriors));
    // causes that need two banks are out on one
    assert_eq!(diagnosis.probability_of(Cause::ExhaustBlockedOneBank), 0.0);
}

#[test]
fn an_even_surplus_on_a_maf_sensored_car_stays_open_between_its_look_alikes() {
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
    assert!(sum > 0.85, "{}", causes_of(&diagnosis));
    for cause in alike {
        assert!(
            (0.03..0.6).contains(&odds(cause)),
            "{}",
            causes_of(&diagnosis)
        );
    }
    assert!(diagnosis.next_checks.iter().any(|next| next.bits > 0.2));
}

#[test]
fn a_leak_fades_with_flow_on_a_maf_sensored_car_and_cannot_be_seen_by_manifold_pressure() {
    let fading = summary(&[[Some(15.0), Some(6.5), Some(4.5), Some(0.5)]]);
    let metered = judged(&fading);
    assert!(
        metered.probability_of(Cause::IntakeLeak) > 0.5,
        "{}",
        causes_of(&metered)
    );
    let vehicle = Vehicle {
        air_metering: Some(AirMetering::Map),
        ..Vehicle::default()
    };
    let by_pressure = with_vehicle(std::slice::from_ref(&fading), &vehicle);
    assert!(
        by_pressure.probability_of(Cause::IntakeLeak) < 0.1,
        "{}",
        causes_of(&by_pressure)
    );
    assert_eq!(
        by_pressure.causes[0].cause,
        Cause::ExhaustLeak,
        "{}",
        causes_of(&by_pressure)
    );
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
    assert!(on_bank_two > 0.9, "{}", causes_of(&diagnosis));
    let mut evidence = crate::report::evidence_words::evidence_lines(&diagnosis.causes[0]);
    assert!(evidence.any(|piece| piece.what.contains("bank 2") && piece.log_odds > 3.0));
    let parting = summary(&[
        [Some(-1.0), Some(-2.0), Some(-4.0), Some(-20.0)],
        [Some(-1.0), Some(2.5), Some(6.0), Some(16.0)],
    ]);
    let diagnosis = judged(&parting);
    assert_eq!(diagnosis.causes[0].cause, Cause::ExhaustBlockedOneBank);
    assert_eq!(
        diagnosis.causes[0].bank,
        Some(1),
        "{}",
        causes_of(&diagnosis)
    );
}

#[test]
fn both_banks_alike_speak_for_what_they_share() {
    let rising = [Some(9.0), Some(12.0), Some(16.0), Some(26.0)];
    let diagnosis = judged(&summary(&[rising, rising]));
    assert_eq!(
        diagnosis.causes[0].cause,
        Cause::FuelPressureLow,
        "{}",
        causes_of(&diagnosis)
    );
    let falling = [Some(-11.0), Some(-4.0), Some(-2.0), Some(-2.0)];
    let diagnosis = judged(&summary(&[falling, falling]));
    assert_eq!(
        diagnosis.causes[0].cause,
        Cause::PurgeStuck,
        "{}",
        causes_of(&diagnosis)
    );
}

/// A saturated fuel trim is a lower bound: a cause that needs more explains it as well, one that needs less does not.
#[test]
fn a_trim_at_its_limit_speaks_against_small_causes_only() {
    let mut stopped = summary(&[everywhere(25.0)]);
    for trim in &mut stopped.trims {
        trim.saturated = 1.0;
    }
    let free = judged(&summary(&[everywhere(25.0)]));
    let stopped = judged(&stopped);
    let dead = |diagnosis: &Diagnosis| log_odds(diagnosis, Cause::InjectorDead);
    assert!(dead(&stopped) > dead(&free));
    assert!(
        stopped.probability_of(Cause::NoneFound) < 0.01,
        "{}",
        causes_of(&stopped)
    );
}

#[test]
fn a_second_trip_settles_more_but_not_the_look_alikes() {
    let trip = summary(&[everywhere(9.0)]);
    let one = with_vehicle(std::slice::from_ref(&trip), &Vehicle::default());
    let two = with_vehicle(&[trip.clone(), trip], &Vehicle::default());
    let none = |diagnosis: &Diagnosis| diagnosis.probability_of(Cause::NoneFound);
    assert!(
        none(&two) < none(&one),
        "{}\n\n{}",
        causes_of(&one),
        causes_of(&two)
    );
    assert!(two.causes[0].probability < 0.7, "{}", causes_of(&two));
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
