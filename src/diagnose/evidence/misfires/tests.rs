//! Counts by hand, and what they must support.

use statrs::function::gamma::ln_gamma;

use super::{
    cylinder::{LARGEST_COUNT, USUAL_CYCLE_REV, negative_binomial},
    *,
};
use crate::{
    bank::Bank,
    diagnose::forward::FailingKnown,
    series::{
        label::region::{ByRegion, Region},
        summary::{CylinderMisfires, MisfireSummary},
    },
};

/// Shape 2 and mean 3 is the negative binomial with r = 2, p = 0.4: P(0) = 0.16, P(1) = 0.192,
/// P(3) = 0.13824 (by hand from (k + 1) p² (1 − p)^k).
#[test]
fn the_count_distribution_agrees_with_sums_by_hand() {
    for (count, expected) in [(0.0, 0.16), (1.0, 0.192), (3.0, 0.13824)] {
        let found = (negative_binomial(count, 3.0, 2.0) - ln_gamma(count + 1.0)).exp();
        assert!((found - expected).abs() < 1e-9, "{count}: {found}");
    }
}

/// Four cylinders at idle over 10 000 revolutions: 5000 firings each.
fn read(counts: [f64; 4], averages: [f64; 4]) -> Misfires {
    let one = |index: usize| CylinderMisfires {
        cylinder: index as u8 + 1,
        count: counts[index],
        count_by_region: ByRegion::from_array([counts[index], 0.0, 0.0, 0.0]),
        average_of_ten: Some(averages[index]),
        counter_high: counts[index],
        dispersion: 1.0,
    };
    let summary = Summary {
        misfires: Some(MisfireSummary {
            revolutions: 10_000.0,
            revolutions_by_region: ByRegion::from_array([10_000.0, 0.0, 0.0, 0.0]),
            cylinders: (0..4).map(one).collect(),
            resets: 0,
        }),
        ..Summary::default()
    };
    Misfires::new(&[summary]).unwrap()
}

/// Cylinder 1 of the first bank.
const FIRST: Location = Location {
    bank: Some(Bank::One),
    cylinder: Some(1),
};

fn fails(share: f64) -> Prediction {
    Prediction {
        failing: ByRegion::from_fn(|_| share),
        ..Prediction::default()
    }
}

#[test]
fn a_cylinder_that_fails_now_and_then_is_not_dead() {
    let of = |count: f64, share: f64| {
        let read = read([count, 0.0, 0.0, 0.0], [0.0; 4]);
        read.under(FIRST, &fails(share), |_| Some(Bank::One))
    };
    assert!(of(800.0, 0.16) > of(800.0, 1.0) + 3.0);
    // the share of failing firings is known only roughly, so that less speaks against it
    assert!(of(5000.0, 1.0) > of(5000.0, 0.16) + 2.0);
}

#[test]
fn where_one_average_was_kept_nothing_is_an_average_too() {
    let read = read([0.0; 4], [98.0, 0.0, 0.0, 0.0]);
    let share = 98.0 / (0.5 * USUAL_CYCLE_REV);
    let everywhere = Prediction {
        failing_others: ByRegion::from_fn(|_| share),
        failing_known: FailingKnown::Alike,
        ..fails(share)
    };
    let alone = read.under(FIRST, &fails(share), |_| Some(Bank::One));
    let all = read.under(Location::default(), &everywhere, |_| Some(Bank::One));
    assert!(alone > all + 2.0, "{alone} {all}");
}

#[test]
fn a_few_misfires_on_the_neighbours_do_not_acquit_the_one_that_fails_always() {
    let read = read([4900.0, 40.0, 0.0, 25.0], [0.0; 4]);
    let dead = read.under(FIRST, &fails(1.0), |_| Some(Bank::One));
    let everywhere = Prediction {
        failing_others: ByRegion::from_fn(|_| 0.25),
        failing_known: FailingKnown::Alike,
        ..fails(0.25)
    };
    let all = read.under(Location::default(), &everywhere, |_| Some(Bank::One));
    assert!(dead > all + 3.0, "{dead} {all}");
}

/// Over 90 % in one cylinder is a finding of that one (13 CCR 1968.2 (e)(3.1.3)): a neighbour with a fraction of its
/// counts cannot be the failing one, and does not clear it either.
#[test]
fn the_cylinder_with_most_misfires_is_the_one_that_fails() {
    let read = read([60.0, 800.0, 10.0, 10.0], [0.0; 4]);
    let second = Location {
        cylinder: Some(2),
        ..FIRST
    };
    let of =
        |location: Location, share: f64| read.under(location, &fails(share), |_| Some(Bank::One));
    let (right, wrong) = (of(second, 0.16), of(FIRST, 0.015));
    assert!(right > wrong + 8.0, "{right} {wrong}");
    let clean = self::read([10.0, 800.0, 10.0, 10.0], [0.0; 4]);
    let alone = clean.under(second, &fails(0.16), |_| Some(Bank::One));
    // at least a tenth of the cars misattributes as much; a count of 60 may be one of some hundred
    assert!(alone - right < 6.0, "{alone} {right}");
}

/// Three or four in 10 000 revolutions on every cylinder occur on some healthy engines.
#[test]
fn a_few_misfires_of_all_cylinders_name_none() {
    let read = read([4.0, 3.0, 3.0, 5.0], [0.0; 4]);
    let location = Location {
        cylinder: Some(4),
        ..FIRST
    };
    let healthy = read.under(location, &Prediction::default(), |_| Some(Bank::One));
    for share in [0.001, 0.003, 0.01, 0.03] {
        let fails = read.under(location, &fails(share), |_| Some(Bank::One));
        assert!(fails < healthy + 1.0, "{share}: {fails} {healthy}");
    }
}

/// A start or a gear change is enough for four misfires of one cylinder: that is a hint, 20 to 1 at most.
#[test]
fn a_cylinder_that_stumbles_a_few_times_is_hardly_accused() {
    let read = read([4.0, 0.0, 0.0, 0.0], [0.0; 4]);
    let healthy = read.under(FIRST, &Prediction::default(), |_| Some(Bank::One));
    for share in [0.0003, 0.001, 0.003] {
        let fails = read.under(FIRST, &fails(share), |_| Some(Bank::One));
        assert!(fails < healthy + 3.0, "{share}: {fails} {healthy}");
    }
}

/// A dead cylinder causes counts on its neighbours now and then, wherever the engine runs.
#[test]
fn misfires_beside_a_dead_cylinder_may_fall_as_the_revolutions_do() {
    let spread = |counts: [f64; Region::ALL.len()]| {
        let mut cylinder = Cylinder::new(2);
        for (piece, count) in cylinder.pieces.iter_mut().zip(counts) {
            piece.count = count;
            piece.revolutions = 2500.0;
        }
        cylinder.count_ways();
        cylinder.of_any_rate()
    };
    // by hand, 40 in all: 43! / (40! 3!) = 12 341 ways to share them out among four
    let (even, lopsided) = (
        spread([10.0; Region::ALL.len()]),
        spread([40.0, 0.0, 0.0, 0.0]),
    );
    let sizes = -(41.0_f64.ln() + LARGEST_COUNT.ln().ln());
    let of_ways = sizes - 12_341.0_f64.ln() - std::f64::consts::LN_2;
    assert!((lopsided - of_ways).abs() < 0.01, "{lopsided} {of_ways}");
    let by_revolutions = ln_gamma(41.0) - 4.0 * ln_gamma(11.0) - 40.0 * 4.0_f64.ln();
    let both = by_revolutions.exp() + 1.0 / 12_341.0;
    assert!((even - (sizes + (0.5 * both).ln())).abs() < 0.01, "{even}");
}

/// Of several dirty injectors the next worst may fail too while the clean ones do not; a mean for all of them fits
/// neither.
#[test]
fn beside_the_worst_of_several_dirty_injectors_some_are_spared() {
    let dirty = |spared_others: f64| Prediction {
        failing_others: ByRegion::from_fn(|_| 0.02),
        spared_others,
        failing_known: FailingKnown::Steeply,
        ..fails(0.3)
    };
    // 0.06 of those that are hit
    assert!((dirty(2.0 / 3.0).failing_of_those_hit()[Region::WarmIdle] - 0.06).abs() < 1e-12);
    let of = |counts: [f64; 4], prediction: &Prediction| {
        read(counts, [0.0; 4]).under(FIRST, prediction, |_| Some(Bank::One))
    };
    let gain = |counts: [f64; 4]| of(counts, &dirty(2.0 / 3.0)) - of(counts, &dirty(0.0));
    let gains = [
        [1500.0, 300.0, 0.0, 0.0],
        [1500.0, 0.0, 0.0, 0.0],
        [1500.0, 100.0, 100.0, 100.0],
    ]
    .map(gain);
    assert!(
        gains[0] > 1.0 && gains[1] > 1.0 && gains[2] < 0.0,
        "{gains:?}"
    );
}
