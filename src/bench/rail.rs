//! Rail pressure: against its range, under load, and how well it holds.

use serde::Serialize;

use super::readings::RailReadings;

/// Pressure drop under load that a sound pump and filter do not exceed, as a share (common practice; with a regulator
/// that follows the manifold the pressure rises instead).
const LOADED_FALL: f64 = 0.10;
/// Pressure drop in ten minutes up to which a rail holds, kPa: the 5 psi that a factory allows in one minute (2005).
const HOLDS_KPA: f64 = 34.5;
/// Share of its pressure above which a rail's loss in ten minutes is a leak (a manufacturer wants 147 kPa of some 300
/// after five minutes).
const LOSES: f64 = 0.5;

/// Verdict on the rail pressure.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Rail {
    /// At idle or with the pump running, kPa.
    pub pressure_kpa: Option<f64>,
    /// Whether the pressure is within the vehicle's range; `None` where either is not known or the gauge cannot decide.
    pub in_range: Option<bool>,
    /// Under load, kPa.
    pub loaded_kpa: Option<f64>,
    /// Whether the pressure drops under load; `None` where not measured or the gauge cannot decide.
    pub falls_under_load: Option<bool>,
    /// Pressure drop in the ten minutes after switching off, kPa; negative where heat raised the pressure.
    pub fall_in_ten_minutes_kpa: Option<f64>,
    /// Verdict on the leak-down.
    pub hold: Hold,
    /// Error of one reading of the gauge, kPa.
    pub doubt_kpa: f64,
}

/// Leak-down of a rail.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Hold {
    /// The pressure holds.
    Holds,
    /// The pressure drops by more than in a sound rail, by less than with a leak.
    Sinks,
    /// The pressure leaks down: an injector, the regulator or the pump's valve leaks.
    Leaks,
    /// Not measured.
    Unknown,
}

/// Judges the rail by the vehicle's range (lowest and highest good value in kPa); `None` when nothing was measured.
pub fn judge(read: &RailReadings, range: Option<[f64; 2]>, gauge_step_kpa: f64) -> Option<Rail> {
    if *read == RailReadings::default() {
        return None;
    }
    let doubt_kpa = gauge_step_kpa / 2.0;
    let within = |(pressure, [low, high]): (f64, [f64; 2])| match pressure {
        inside if (low..=high).contains(&inside) => Some(true),
        near if near + doubt_kpa >= low && near - doubt_kpa <= high => None,
        _ => Some(false),
    };
    let both = |later: Option<f64>| read.pressure_kpa.zip(later);
    let gives_way = |(idle, loaded): (f64, f64)| {
        let fall = idle - loaded;
        match LOADED_FALL * idle {
            limit if fall + 2.0 * doubt_kpa < limit => Some(false),
            limit if fall - 2.0 * doubt_kpa > limit => Some(true),
            _ => None,
        }
    };
    let hold = |(first, later): (f64, f64)| match first - later {
        fall if fall - 2.0 * doubt_kpa <= HOLDS_KPA => Hold::Holds,
        fall if fall > LOSES * first => Hold::Leaks,
        _ => Hold::Sinks,
    };
    let later = both(read.after_ten_minutes_kpa);
    Some(Rail {
        pressure_kpa: read.pressure_kpa,
        in_range: read.pressure_kpa.zip(range).and_then(within),
        loaded_kpa: read.loaded_kpa,
        falls_under_load: both(read.loaded_kpa).and_then(gives_way),
        fall_in_ten_minutes_kpa: later.map(|(first, later)| first - later),
        hold: later.map_or(Hold::Unknown, hold),
        doubt_kpa,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(pressure: f64, loaded: Option<f64>, later: Option<f64>) -> RailReadings {
        RailReadings {
            pressure_kpa: Some(pressure),
            loaded_kpa: loaded,
            after_ten_minutes_kpa: later,
        }
    }

    /// Ranges of returnless sets in factory pages: 335 to 375.
    #[test]
    fn a_rail_is_judged_only_by_what_is_known_and_what_the_gauge_can_tell() {
        let range = Some([335.0, 375.0]);
        let judged = judge(&read(300.0, None, Some(220.0)), range, 5.0).unwrap();
        assert_eq!(judged.in_range, Some(false));
        assert_eq!(judged.fall_in_ten_minutes_kpa, Some(80.0));
        assert_eq!(judged.hold, Hold::Sinks);
        let edge = judge(&read(333.0, None, None), range, 5.0).unwrap();
        assert_eq!((edge.in_range, edge.hold), (None, Hold::Unknown));
        assert_eq!(
            judge(&read(300.0, None, None), None, 5.0).unwrap().in_range,
            None
        );
        assert_eq!(judge(&RailReadings::default(), range, 5.0), None);
    }

    #[test]
    fn holding_and_giving_way_are_reported() {
        let judged = |loaded, later| judge(&read(300.0, loaded, later), None, 5.0).unwrap();
        // a factory allows 34 kPa in the first minute; another wants 147 kPa left after five
        assert_eq!(judged(None, Some(270.0)).hold, Hold::Holds);
        assert_eq!(judged(None, Some(330.0)).hold, Hold::Holds);
        assert_eq!(judged(None, Some(100.0)).hold, Hold::Leaks);
        assert_eq!(judged(Some(250.0), None).falls_under_load, Some(true));
        assert_eq!(judged(Some(272.0), None).falls_under_load, None);
        assert_eq!(judged(Some(300.0), None).falls_under_load, Some(false));
    }
}
