//! Relative flow: one injector against the mean of its set, with the step of the instrument carried through.

/// An injector whose pressure drop is this far from the others' is out, kPa (factory pages of three vehicle lines,
/// 2000–2007; other lines of that maker allow 20). They mean the mean; held against the middle of the set, as here, their
/// printed example comes out the same, and one bad injector does not make its good fellows look odd.
const DROP_LIMIT_KPA: f64 = 10.0;
/// The same as a share of the middle, for pulses so short that 10 kPa would pass anything: 10 of the 67 kPa of the factory's
/// own example.
const DROP_LIMIT_SHARE: f64 = 0.15;
/// An injector whose volume is this share away from the middle of its set is out (5 % for service work: common practice).
const VOLUME_LIMIT: f64 = 0.05;
/// Standard error of a flow bench against a data sheet, as a share: test fluid, its temperature, pressure and pulse are not
/// the sheet's (common practice, as wide as the 3 % within which the trade wants injectors of a set).
pub const DATA_SHEET_ERROR: f64 = 0.03;

/// What an injector's flow says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Flow {
    /// Like its fellows.
    Ok,
    /// Less than its fellows.
    Restricted,
    /// More than its fellows.
    Excess,
    /// Not measured, or nearer to the limit than the instrument can tell.
    Unknown,
}

/// One reading against the mean of all.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Relative {
    /// Reading over mean.
    pub flow: f64,
    /// Lowest value that the instrument's step allows.
    pub low: f64,
    /// Highest.
    pub high: f64,
    /// What it says.
    pub verdict: Flow,
}

/// Falls of the rail pressure against each other; `gauge_step_kpa` is the gauge's.
pub fn by_drops(drops_kpa: &[Option<f64>], gauge_step_kpa: f64) -> Vec<Option<Relative>> {
    // the difference of two readings is off by a whole step
    relative(drops_kpa, gauge_step_kpa, |middle| {
        DROP_LIMIT_KPA.min(DROP_LIMIT_SHARE * middle)
    })
}

/// Volumes against each other; `glass_step_ml` is the glasses'.
pub fn by_volumes(volumes_ml: &[Option<f64>], glass_step_ml: f64) -> Vec<Option<Relative>> {
    // a glass is read once: off by half a step
    relative(volumes_ml, glass_step_ml / 2.0, |middle| {
        VOLUME_LIMIT * middle
    })
}

/// The readings of a set: told against their mean, judged against their middle.
///
/// `doubt` is how far a reading may be off (in its unit), `limit` how far from the middle is still good; for the mean's
/// own doubt the readings' are taken as independent. Nothing can be said of fewer than two readings, or when the mean or
/// the middle is 0.
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

/// Median; 0 of nothing.
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
