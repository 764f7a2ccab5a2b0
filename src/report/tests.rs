//! The two forms of a diagnosis: what comes first, what fits the width, what the published format holds.

use super::{json, text};
use crate::{
    cause::Cause,
    caution::Caution,
    diagnose::{
        Diagnosis, Fact,
        diagnosis::{
            Counted, CylinderRate, Evidence, Finding, InjectorAdvice, MisfireSource, Misfires,
            NextCheck, Severity, StandingOut, Treatment, Trim, Warning,
        },
    },
    series::{
        label::region::Region,
        summary::Seconds,
        warning::{NotJudged, Warning as DataWarning},
    },
    statistics::poisson::MisfirePattern,
    vehicle::Vehicle,
};

fn finding(cause: Cause, cylinder: Option<u8>, probability: f64) -> Finding {
    Finding {
        cause,
        cylinder,
        bank: Some(1),
        probability,
        second_cause: None,
        severity: cause.severity_quantity().map(|quantity| Severity {
            quantity,
            low: 18.0,
            median: 24.0,
            high: 31.0,
        }),
        evidence: vec![Evidence {
            fact: Fact::Misfires {
                cylinder: 3,
                count: 57.0,
                others: 2.0,
                revolutions: 41_234.0,
            },
            log_odds: 2.1,
        }],
    }
}

fn diagnosis(causes: Vec<Finding>) -> Diagnosis {
    Diagnosis {
        banks: 1,
        seconds: Seconds {
            total: 1200.0,
            used: 640.0,
            cold: 560.0,
            ..Seconds::default()
        },
        trims: vec![Trim {
            bank: 1,
            region: Region::WarmIdle,
            std_error_log: 0.01,
            degrees_of_freedom: 10.0,
            mean_pct: 8.1234,
            low_pct: 6.5,
            high_pct: 9.7,
            seconds: 180.0,
        }],
        misfires: Misfires {
            source: MisfireSource::Counters,
            revolutions: Some(41_234.0),
            cylinders: vec![CylinderRate {
                cylinder: 3,
                counted: Some(Counted {
                    count: 57.0,
                    per_1000_rev: 1.382,
                    low: 1.05,
                    high: 1.79,
                }),
            }],
            standing_out: Some(StandingOut {
                cylinder: 3,
                share: 57.0 / 59.0,
                p_value: 1e-9,
                pattern: Some(MisfirePattern::Single(2)),
            }),
            freeze_frame: None,
        },
        causes,
        next_checks: vec![NextCheck {
            check: "pressure_drop".to_owned(),
            how: "Fire each injector with equal pulses and compare the falls of the rail pressure."
                .to_owned(),
            bits: 0.61,
            minutes: 30.0,
            outcomes: vec![
                "one falls less: restricted".to_owned(),
                "all alike: not the injectors".to_owned(),
            ],
            cautions: vec![Caution::FuelPressure],
        }],
        treatment: vec![Treatment {
            action: "clean_on_car".to_owned(),
            how: "pressurised cleaning through the rail".to_owned(),
            cost: 60.0,
            minutes: 45.0,
            expected_cost: 85.0,
            chance: 0.7,
            then: vec!["replace".to_owned()],
            injectors_if_it_fails: 0.5,
            stop_if_it_fails: true,
            notes: vec!["Renew the oil.".to_owned()],
            cautions: vec![Caution::FuelPressure, Caution::Solvents],
        }],
        cautions: vec![Caution::FuelPressure, Caution::Solvents],
        warnings: vec![Warning::Data(DataWarning::CountersInBlocks)],
        ..Diagnosis::default()
    }
}

fn lean() -> Diagnosis {
    diagnosis(vec![
        finding(Cause::InjectorRestricted, Some(3), 0.83),
        finding(Cause::NoneFound, None, 0.17),
    ])
}

#[test]
fn the_finding_stands_first_with_its_probability() {
    let first = |diagnosis: &Diagnosis| {
        let text = text::render(diagnosis, Some(200)).to_string();
        text.lines().next().unwrap().to_owned()
    };
    assert_eq!(
        first(&lean()),
        "Most probable cause: injector of cylinder 3 restricted (83 %)."
    );
    let coil = diagnosis(vec![
        finding(Cause::IgnitionWeak, Some(2), 0.93),
        finding(Cause::InjectorRestricted, Some(2), 0.07),
    ]);
    assert_eq!(
        first(&coil),
        "Not the injectors. Most probable cause: weak ignition on cylinder 2 (93 %)."
    );
    let open = diagnosis(vec![
        finding(Cause::AirMeterLow, None, 0.35),
        finding(Cause::InjectorsRestrictedSeveral, None, 0.33),
        finding(Cause::FuelPressureLow, None, 0.32),
    ]);
    assert_eq!(
        first(&open),
        "Not settled. Most probable cause: MAF sensor reads low (35 %). Next: several injectors restricted (33 %)."
    );
    let diesel = Diagnosis {
        not_judged: Some(NotJudged::Diesel),
        ..Diagnosis::default()
    };
    assert!(first(&diesel).starts_with("Not judged: the car reports that it runs on diesel"));
}

#[test]
fn every_line_keeps_to_the_width_and_cautions_stand_at_each_step_and_once_in_full() {
    let treated = Diagnosis {
        injector_advice: Some(InjectorAdvice::Treat),
        ..lean()
    };
    for width in [40, 60, 80, 120] {
        let text = text::render(&treated, Some(width)).to_string();
        for line in text.lines() {
            assert!(
                line.chars().count() <= usize::from(width),
                "{width}: {line:?}"
            );
        }
        let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
        let whole = Caution::FuelPressure.words();
        assert_eq!(flat.matches(whole).count(), 1, "{text}");
        // at the check and at the treatment
        let short = Caution::FuelPressure.short();
        assert_eq!(flat.matches(short).count(), 2, "{text}");
        assert!(flat.contains("another trip of the same car differs by about ±2 points"));
    }
}

#[test]
fn counters_over_no_revolutions_make_no_table() {
    let mut none = lean();
    none.misfires.revolutions = Some(0.0);
    none.misfires.cylinders.clear();
    let text = text::render(&none, None).to_string();
    assert!(
        text.contains("no engine revolutions between two readings"),
        "{text}"
    );
    assert!(!text.contains("per 1000 rev"), "{text}");
}

/// Names and places of the published form.
#[test]
fn the_document_has_the_published_form() {
    let captures = ["a.capture.csv".to_owned()];
    let diagnosis = lean();
    let vehicle = Vehicle {
        label: Some("van 3".to_owned()),
        ..Vehicle::default()
    };
    let document = json::document(&diagnosis, &captures, &vehicle);
    let found = serde_json::to_value(document).unwrap();
    let at = |pointer: &str| found.pointer(pointer).unwrap().clone();
    assert_eq!(at("/schema"), "pintle.diagnosis/1");
    assert_eq!(at("/captures/0"), "a.capture.csv");
    assert_eq!(at("/vehicle/label"), "van 3");
    assert_eq!(at("/seconds/used"), 640.0);
    assert_eq!(at("/seconds/relearn"), 0.0);
    assert_eq!(at("/trims/0/region"), "warm_idle");
    assert_eq!(at("/trims/0/mean_pct"), 8.12);
    assert_eq!(at("/misfires/source"), "service06");
    assert_eq!(at("/misfires/cylinders/0/per_1000_rev"), 1.382);
    assert_eq!(at("/causes/0/cause"), "injector_restricted");
    assert_eq!(at("/causes/0/cylinder"), 3);
    assert_eq!(at("/causes/0/severity/quantity"), "flow_loss_pct");
    assert_eq!(at("/causes/1/severity"), serde_json::Value::Null);
    assert_eq!(at("/causes/0/evidence/0/log_odds"), 2.1);
    assert_eq!(at("/next_checks/0/check"), "pressure_drop");
    assert_eq!(at("/treatment/0/action"), "clean_on_car");
    assert_eq!(at("/treatment/0/cost"), 60.0);
    assert_eq!(at("/treatment/0/stop_if_it_fails"), true);
    assert!(at("/warnings").is_array() && at("/cautions/1").is_string());
}

#[test]
fn a_cylinder_that_stands_out_is_reported_with_the_regulations_word() {
    let text = text::render(
        &diagnosis(vec![finding(Cause::IgnitionWeak, Some(3), 0.9)]),
        None,
    )
    .to_string();
    let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        flat.contains("Cylinder 3 stands out with 97 % of the misfires"),
        "{text}"
    );
    assert!(flat.contains("less than once in 1000"), "{text}");
    assert!(flat.contains("a single-cylinder misfire"), "{text}");
}
