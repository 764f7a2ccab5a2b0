//! Odds are odds, whatever the summaries hold.

use pintle_protocol::dtc::TroubleCode;
use proptest::prelude::*;

use super::*;

/// Any number, invalid ones included.
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
    let code = prop_oneof![0..0x0400_u16, 0x2000..0x21B0_u16, any::<u16>()].prop_map(TroubleCode);
    let codes = proptest::collection::vec(code, 0..3);
    (trims, counts, codes, 0.0..1e6_f64, 0..5_u8).prop_map(
        |(trims, counts, codes, revolutions, banks)| {
            let trims = trims
                .into_iter()
                .map(|(bank, region, mean_log, std_error_log)| TrimSummary {
                    mean_log,
                    std_error_log: std_error_log.abs(),
                    saturated: std_error_log.clamp(0.0, 1.0),
                    ..trim(bank, Region::ALL[region], 0.0)
                });
            let cylinders = counts
                .into_iter()
                .map(|(cylinder, count)| CylinderMisfires {
                    cylinder,
                    count,
                    count_by_region: ByRegion::from_array([count / 4.0; 4]),
                    average_of_ten: Some(count),
                    counter_high: count,
                    dispersion: 1.0 + count / 100.0,
                });
            Summary {
                trims: trims.collect(),
                misfires: Some(MisfireSummary {
                    revolutions,
                    revolutions_by_region: ByRegion::from_array([revolutions / 5.0; 4]),
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

    /// Whatever the summaries hold, the probabilities sum to 1.
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
