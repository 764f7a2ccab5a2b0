//! Relative flow: one injector against the mean of its set, with the instrument's step carried through.

/// Distance of an injector's pressure drop from the middle of the set from which the injector is out, kPa (factory
/// pages of three vehicle lines, 2000–2007; other lines of that manufacturer allow 20). The factory uses the mean; with
/// the middle, as here, its printed example gives the same verdicts, and one bad injector does not make good ones look
/// odd.
const DROP_LIMIT_KPA: f64 = 10.0;
/// Distance of an injector's pressure drop from the middle of the set from which the injector is out, as a share of the
/// middle, for pulses so short that 10 kPa would pass anything: 10 of the 67 kPa of the factory's own example.
const DROP_LIMIT_SHARE: f64 = 0.15;
/// Distance of an injector's volume from the middle of the set from which the injector is out, as a share (5 % for
/// service work: common practice).
const VOLUME_LIMIT: f64 = 0.05;
/// Standard error of a flow bench against a data sheet, as a share: test fluid, temperature, pressure and pulse differ
/// from the sheet's (assumed, as wide as the 3 % within which the trade wants injectors of a set).
pub const DATA_SHEET_ERROR: f64 = 0.03;

/// Verdict on an injector's flow.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Flow {
    /// Like the rest of the set.
    Ok,
    /// Less than the rest of the set.
    Restricted,
    /// More than the rest of the set.
    Excess,
    /// Not measured, or closer to the limit than the instrument can decide.
    Unknown,
}

/// One reading against the mean of the set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Relative {
    /// Reading divided by the mean of the set.
    pub flow: f64,
    /// Lowest relative flow that the instrument's step allows.
    pub low: f64,
    /// Highest relative flow that the instrument's step allows.
    pub high: f64,
    /// Verdict on the flow.
    pub verdict: Flow,
}

/// Relative flow from pressure drops; `gauge_step_kpa` is the gauge's step.
pub fn by_drops(drops_kpa: &[Option<f64>], gauge_step_kpa: f64) -> Vec<Option<Relative>> {
    // the difference of two readings is off by a whole step
    relative(drops_kpa, gauge_step_kpa, |middle| {
        DROP_LIMIT_KPA.min(DROP_LIMIT_SHARE * middle)
    })
}

/// Relative flow from volumes; `glass_step_ml` is the measuring glass's step.
pub fn by_volumes(volumes_ml: &[Option<f64>], glass_step_ml: f64) -> Vec<Option<Relative>> {
    // a glass is read once: off by half a step
    relative(volumes_ml, glass_step_ml / 2.0, |middle| {
        VOLUME_LIMIT * middle
    })
}

/// Relative flow of a set: reported against the mean, judged against the middle.
///
/// `doubt` is the error of a reading (in its unit), `limit` the largest good distance from the middle; the errors of
/// the readings are taken as independent. `None` for fewer than two readings, or when the mean or the middle is 0.
fn relative(
    readings: &[Option<f64>],
    doubt: f64,
    limit: impl Fn(f64) -> f64,
) -> Vec<Option<Relative>> {
    let known: Vec<f64> = readings.iter().flatten().copied().collect();
    let count = known.len() as f64;
    let mean = known.iter().sum::<f64>() / count;
    let middle = middle(known.clone());
    if known.len() < 2 || mean <= 0.0 || middle <= 0.0 {
        return vec![None; readings.len()];
    }
    let mean_doubt = (doubt / count.sqrt()).min(0.5 * mean);
    let judge = |reading: f64| Relative {
        flow: reading / mean,
        low: (reading - doubt).max(0.0) / (mean + mean_doubt),
        high: (reading + doubt) / (mean - mean_doubt),
        verdict: verdict(reading - middle, doubt, limit(middle)),
    };
    readings.iter().map(|reading| reading.map(judge)).collect()
}

/// Median; 0 without values.
fn middle(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    let at = |index: usize| values.get(index).copied().unwrap_or(0.0);
    let half = values.len() / 2;
    match values.len() % 2 {
        1 => at(half),
        _ => 0.5 * (at(half.saturating_sub(1)) + at(half)),
    }
}

fn verdict(away: f64, doubt: f64, limit: f64) -> Flow {
    if away + doubt < -limit {
        Flow::Restricted
    } else if away - doubt > limit {
        Flow::Excess
    } else if away.abs() + doubt <= limit {
        Flow::Ok
    } else {
        Flow::Unknown
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The balance example printed in two factory pages: 379 kPa at the start, ends of 280, 310, 340, 317; printed verdicts
    /// too much, good, too little, good. Its mean drop is 67.25.
    #[test]
    fn the_printed_balance_example_comes_out_as_printed() {
        let drops = [280.0, 310.0, 340.0, 317.0].map(|end| Some(379.0 - end));
        for limit in [DROP_LIMIT_KPA, 20.0] {
            let judged = relative(&drops, 1.0, |_| limit);
            let verdicts = judged.iter().map(|one| one.unwrap().verdict);
            let printed = [Flow::Excess, Flow::Ok, Flow::Restricted, Flow::Ok];
            assert!(verdicts.eq(printed), "limit {limit}");
        }
        let first = relative(&drops, 1.0, |_| DROP_LIMIT_KPA)[0].unwrap();
        assert!((first.flow - 99.0 / 67.25).abs() < 1e-12);
        assert!(first.low < first.flow && first.flow < first.high);
    }

    #[test]
    fn a_coarse_gauge_leaves_it_open_where_a_fine_one_decides() {
        let drops = [Some(60.0), Some(60.0), Some(60.0), Some(45.0)];
        assert_eq!(
            relative(&drops, 0.5, |_| 10.0)[3].unwrap().verdict,
            Flow::Restricted
        );
        assert_eq!(
            relative(&drops, 5.0, |_| 10.0)[3].unwrap().verdict,
            Flow::Unknown
        );
    }

    #[test]
    fn one_bad_injector_does_not_make_its_good_fellows_look_odd() {
        let volumes = [50.0, 40.0, 50.5, 51.0].map(Some);
        let verdicts = by_volumes(&volumes, 0.5);
        let verdicts = verdicts.iter().map(|one| one.unwrap().verdict);
        assert!(verdicts.eq([Flow::Ok, Flow::Restricted, Flow::Ok, Flow::Ok]));
    }

    /// Drops of 8 kPa lie within 10 of each other whatever the injectors do.
    #[test]
    fn short_pulses_pass_nobody_by_default() {
        let drops = [8.0, 8.0, 3.0, 8.0].map(Some);
        assert_eq!(by_drops(&drops, 0.1)[2].unwrap().verdict, Flow::Restricted);
        assert_eq!(by_drops(&drops, 5.0)[0].unwrap().verdict, Flow::Unknown);
    }

    #[test]
    fn one_reading_alone_or_no_flow_at_all_says_nothing() {
        assert_eq!(relative(&[Some(60.0), None], 1.0, |_| 10.0), [None, None]);
        assert_eq!(
            relative(&[Some(0.0), Some(0.0)], 1.0, |_| 10.0),
            [None, None]
        );
    }
}
