//! Leakage of a closed injector, in drops per minute.

/// Drops per minute up to which a valve seat does not leak: one in five minutes (factory page).
const SOUND: f64 = 0.2;
/// Largest error of a count over one minute, drops.
const STEP: f64 = 1.0;

/// Verdict on the drops.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Leakage {
    /// The valve seat does not leak.
    Ok,
    /// The valve seat leaks.
    Leaks,
    /// Not measured, or too few drops to decide: count for five minutes.
    Unknown,
}

/// Judges a count of drops per minute.
pub fn judge(drops_per_minute: Option<f64>) -> Leakage {
    match drops_per_minute {
        Some(drops) if drops <= SOUND => Leakage::Ok,
        Some(drops) if drops - STEP > SOUND => Leakage::Leaks,
        _ => Leakage::Unknown,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One drop in five minutes is allowed, by the factory page of one maker; one in sixteen by another's.
    #[test]
    fn drops_are_judged_by_what_a_count_can_tell() {
        assert_eq!(judge(Some(0.0)), Leakage::Ok);
        assert_eq!(judge(Some(0.2)), Leakage::Ok);
        assert_eq!(judge(Some(1.0)), Leakage::Unknown);
        assert_eq!(judge(Some(6.0)), Leakage::Leaks);
        assert_eq!(judge(None), Leakage::Unknown);
    }
}
