//! Power balance: how much work each cylinder does at idle, by the drop in rpm without it.

/// Share of the set's middle below which a cylinder is weak (common practice).
const WEAK: f64 = 0.5;
/// Share of the set's middle above which a cylinder is sound (assumed).
const SOUND: f64 = 0.7;
/// Middle drop in steps of the speed reading below which idle control hides any difference (assumed).
const LEAST_STEPS: f64 = 2.0;

/// Verdict on a cylinder's work.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Power {
    /// As much as the rest of the set.
    Ok,
    /// Hardly any work.
    Weak,
    /// Not measured, or closer to the limit than the speed can be read.
    Unknown,
}

/// Judges drops in rpm against the middle of the set; a drop may be off by `step`.
pub fn judge(falls: &[Option<f64>], step: f64) -> Vec<Power> {
    let mut sorted: Vec<f64> = falls.iter().flatten().copied().collect();
    sorted.sort_by(f64::total_cmp);
    // of an even count the upper middle: a weak cylinder pulls the other one down
    let middle = sorted.get(sorted.len() / 2).copied().unwrap_or(0.0);
    if sorted.len() < 3 || middle < LEAST_STEPS * step {
        return vec![Power::Unknown; falls.len()];
    }
    let one = |fall: &Option<f64>| match fall {
        Some(fall) if fall + step < WEAK * middle => Power::Weak,
        Some(fall) if fall - step > SOUND * middle => Power::Ok,
        // clear enough where the steps are coarse
        Some(fall) if *fall >= middle => Power::Ok,
        _ => Power::Unknown,
    };
    falls.iter().map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_cylinder_that_does_nothing_is_found() {
        let falls = [80.0, 75.0, 5.0, 85.0].map(Some);
        let expected = [Power::Ok, Power::Ok, Power::Weak, Power::Ok];
        assert_eq!(judge(&falls, 10.0), expected);
    }

    #[test]
    fn an_idle_control_that_holds_the_speed_hides_it() {
        let falls = [10.0, 12.0, 0.0, 15.0].map(Some);
        assert_eq!(judge(&falls, 10.0), [Power::Unknown; 4]);
        assert_eq!(
            judge(&[Some(80.0), None, Some(5.0)], 10.0)[2],
            Power::Unknown
        );
    }
}
