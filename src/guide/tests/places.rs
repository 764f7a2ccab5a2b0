//! What is asked for is what is counted.

use proptest::prelude::*;

use super::*;
use crate::{
    guide::{place::misplaced, step::Hold},
    series::label::region::Region,
};

proptest! {
    #[test]
    fn where_nothing_has_to_be_changed_the_analysis_sees_the_region(
        rpm in 400.0..6000.0_f64,
        km_h in prop_oneof![Just(0.0), 0.0..20.0, 20.0..130.0],
        load in 5.0..95.0_f64,
    ) {
        let mut builder = Builder::keeping_course();
        for second in 0..6 {
            let held = Held { rpm, km_h, load, ..IDLE };
            for (item, value) in readings(0, held) {
                let t_us = second * 1_000_000;
                builder.push(Observation { t_us, item, value });
            }
        }
        let last = builder.drain_course().last().unwrap();
        for region in Region::ALL {
            let held = misplaced(region, &Hold::of(region, false), &last.running).is_none();
            prop_assert_eq!(held, last.region == Some(region), "{:?}: {:?}", region, last);
            // held closely is held
            let closely = misplaced(region, &Hold::of(region, true), &last.running).is_none();
            prop_assert!(!closely || held);
        }
    }
}
