//! Sums by hand, and readings that must be no evidence.

use super::*;
use crate::series::summary::Drift;

fn stretch(second: f64, mean_log: f64) -> Stretch {
    Stretch {
        second,
        mean_log,
        std_error_log: 0.005,
        seconds: 120.0,
    }
}

fn idling(stretches: &[Stretch]) -> Summary {
    Summary {
        drift: vec![Drift {
            region: Region::WarmIdle,
            stretches: stretches.to_vec(),
        }],
        ..Summary::default()
    }
}

fn purge(by: f64, over: usize) -> Prediction {
    Prediction {
        emptying: Some(Emptying {
            over,
            by_log: ByRegion::from_array([by, 0.0, 0.0, 0.0]),
        }),
        ..Prediction::default()
    }
}

fn for_purge(summary: Summary) -> f64 {
    let drift = DriftEvidence::new(&[summary]).unwrap();
    drift.under(&purge(-0.12, 1)) - drift.under(&Prediction::default())
}

/// By hand: stretches at 60 and 1260 s, 0.10 apart. What a healthy car does to their difference: 2 · 0.005² measured,
/// 2 · 0.008² (1 − e^−4) drift, 0.02² (1 − e^−5)² settling, together 0.000570; so it lies 17.5 away from none. Over 300 s
/// 0.804 of what the canister held goes between them: 0.12 of that is 0.0964, a size of 16.3, known to within 0.3 of itself
/// 1 + 0.09 · 16.3 = 2.47 wider. From a full canister (0.65) it comes 17.5 − ln 2.47 nearer, which with the 0.65 is 15.8.
/// 3 ln(1 + 17.5 / 5) = 4.51, less 3 ln(1 + 1.8 / 5) = 0.90.
#[test]
fn a_trim_that_rises_as_a_canister_empties_speaks_for_purge() {
    let gain = for_purge(idling(&[stretch(60.0, -0.12), stretch(1260.0, -0.02)]));
    assert!((gain - 3.61).abs() < 0.03, "{gain}");
}

#[test]
fn a_trim_that_stays_or_falls_speaks_against_an_emptying_canister() {
    let stays = for_purge(idling(&[stretch(60.0, -0.10), stretch(1260.0, -0.10)]));
    let falls = for_purge(idling(&[stretch(60.0, -0.02), stretch(1260.0, -0.12)]));
    assert!(stays < -0.4 && falls < -0.4, "{stays} {falls}");
}

/// A level is no drift, whatever its size: it is weighed elsewhere.
#[test]
fn the_level_of_a_region_does_not_matter() {
    let at = |level: f64| {
        for_purge(idling(&[
            stretch(60.0, level - 0.06),
            stretch(700.0, level),
        ]))
    };
    assert!((at(0.0) - at(0.3)).abs() < 1e-9);
}

#[test]
fn what_cannot_drift_says_nothing() {
    assert!(DriftEvidence::new(&[Summary::default()]).is_none());
    assert!(DriftEvidence::new(&[idling(&[stretch(60.0, -0.2)])]).is_none());
    let filled = Summary {
        refuelling: Some(crate::series::summary::Refuelling {
            from_pct: 20.0,
            to_pct: 90.0,
            moved: Vec::new(),
        }),
        ..idling(&[stretch(60.0, -0.12), stretch(1260.0, -0.02)])
    };
    assert!(DriftEvidence::new(&[filled]).is_none());
}

/// By hand: e^(−60/300) = 0.819 and e^(−1260/300) = 0.015, as long each.
#[test]
fn what_was_still_held_is_a_mean_over_what_was_recorded() {
    let drift = DriftEvidence::new(&[idling(&[stretch(60.0, 0.0), stretch(1260.0, 0.0)])]).unwrap();
    let [quick, usual, slow] = drift.canister_left;
    assert!((usual.of_all - 0.417).abs() < 0.001, "{usual:?}");
    assert_eq!(usual.by_region, ByRegion::from_fn(|_| usual.of_all));
    assert!(slow.of_all > usual.of_all && usual.of_all > quick.of_all);
}

/// By hand: the one difference of 0.10 is the rise.
#[test]
fn the_rise_is_what_the_trim_went_up_by() {
    let drift =
        DriftEvidence::new(&[idling(&[stretch(60.0, -0.12), stretch(1260.0, -0.02)])]).unwrap();
    let (rise, error) = drift.rise();
    assert!(
        (rise - 0.10).abs() < 1e-6 && (error - 0.0239).abs() < 0.001,
        "{rise} {error}"
    );
}
