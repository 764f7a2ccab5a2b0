//! Fuel trim with purge commanded open and shut.

use super::*;
use crate::series::label::region::Region;

/// A minute shut, a minute open, and so on; the short trim needs five seconds to follow.
fn purged(open_pct: f64, short: f64) -> Summary {
    summary_of(600, |t| {
        let open = t % 120.0 >= 60.0;
        let followed = (t - 5.0).rem_euclid(120.0) >= 60.0;
        Car::idling()
            .with(Pid::PURGE, if open { open_pct } else { 0.0 })
            .with(Pid::SHORT_TRIM_BANK_1, if followed { short } else { 0.0 })
    })
}

#[test]
fn what_follows_the_command_is_kept_apart() {
    let summary = purged(20.0, -6.0);
    let [contrast] = &summary.purge[..] else {
        panic!("one region: {:?}", summary.purge);
    };
    assert_eq!(contrast.region, Region::WarmIdle);
    assert!((contrast.open_less_shut_log - 0.94_f64.ln()).abs() < 1e-9);
    // eight seconds of every minute are left for the trim to follow
    assert_eq!(
        (contrast.open_seconds, contrast.shut_seconds),
        (260.0, 260.0)
    );
}

#[test]
fn a_command_too_small_to_move_air_is_neither() {
    assert_eq!(purged(2.0, -6.0).purge, []);
}
