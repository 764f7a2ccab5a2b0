//! Counts by hand, and what they must speak for.

use super::*;

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
        count_by_region: [counts[index], 0.0, 0.0, 0.0],
        average_of_ten: Some(averages[index]),
        counter_high: counts[index],
        dispersion: 1.0,
    };
    let summary = Summary {
        misfires: Some(MisfireSummary {
            revolutions: 10_000.0,
            revolutions_by_region: [10_000.0, 0.0, 0.0, 0.0],
            cylinders: (0..4).map(one).collect(),
            resets: 0,
        }),
        ..Summary::default()
    };
    Misfires::new(&[summary]).unwrap()
}

const FIRST: Place = Place {
    bank: Some(0),
    cylinder: Some(1),
};

fn fails(share: f64) -> Prediction {
    Prediction {
        failing: [share; REGIONS],
        ..Prediction::default()
    }
}

#[test]
fn a_cylinder_that_fails_now_and_then_is_not_dead() {
    let of = |count: f64, share: f64| {
        let read = read([count, 0.0, 0.0, 0.0], [0.0; 4]);
        read.log_likelihood(FIRST, &fails(share), |_| Some(0))
    };
    assert!(of(800.0, 0.16) > of(800.0, 1.0) + 3.0);
    assert!(of(5000.0, 1.0) > of(5000.0, 0.16) + 3.0);
}

#[test]
fn where_one_average_was_kept_nothing_is_an_average_too() {
    let read = read([0.0; 4], [98.0, 0.0, 0.0, 0.0]);
    let share = 98.0 / (0.5 * USUAL_CYCLE_REV);
    let everywhere = Prediction {
        failing_beside: [share; REGIONS],
        failing_alike: true,
        ..fails(share)
    };
    let alone = read.log_likelihood(FIRST, &fails(share), |_| Some(0));
    let all = read.log_likelihood(Place::default(), &everywhere, |_| Some(0));
    assert!(alone > all + 2.0, "{alone} {all}");
}

#[test]
fn a_few_misfires_on_the_neighbours_do_not_acquit_the_one_that_fails_always() {
    let read = read([4900.0, 40.0, 0.0, 25.0], [0.0; 4]);
    let dead = read.log_likelihood(FIRST, &fails(1.0), |_| Some(0));
    let everywhere = Prediction {
        failing_beside: [0.25; REGIONS],
        failing_alike: true,
        ..fails(0.25)
    };
    let all = read.log_likelihood(Place::default(), &everywhere, |_| Some(0));
    assert!(dead > all + 3.0, "{dead} {all}");
}

/// A dead cylinder shakes its neighbours into the counters now and then, wherever the engine runs.
#[test]
fn misfires_beside_a_dead_cylinder_may_fall_as_the_revolutions_do() {
    let spread = |counts: [f64; REGIONS]| {
        let mut cylinder = Cylinder::new(2);
        for (piece, count) in cylinder.pieces.iter_mut().zip(counts) {
            piece.count = count;
            piece.revolutions = 2500.0;
        }
        cylinder.count_ways();
        cylinder.of_any_rate()
    };
    // by hand, 40 in all: 43! / (40! 3!) = 12 341 ways to share them out among four
    let (even, lopsided) = (spread([10.0; REGIONS]), spread([40.0, 0.0, 0.0, 0.0]));
    let sizes = -(41.0_f64.ln() + LARGEST_COUNT.ln().ln());
    let of_ways = sizes - 12_341.0_f64.ln() - std::f64::consts::LN_2;
    assert!((lopsided - of_ways).abs() < 0.01, "{lopsided} {of_ways}");
    let by_revolutions = ln_gamma(41.0) - 4.0 * ln_gamma(11.0) - 40.0 * 4.0_f64.ln();
    let both = by_revolutions.exp() + 1.0 / 12_341.0;
    assert!((even - (sizes + (0.5 * both).ln())).abs() < 0.01, "{even}");
}
