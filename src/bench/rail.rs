//! Rail pressure: against its range, and how it holds.

use serde::Serialize;

use super::form::RailEntry;

/// What the rail's pressure says.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Rail {
    /// With the pump running, kPa.
    pub pressure_kpa: Option<f64>,
    /// Whether that is within the vehicle's range; `None` where either is not known.
    pub in_range: Option<bool>,
    /// Fall in the ten minutes after the pump was switched off, kPa.
    pub fall_in_ten_minutes_kpa: Option<f64>,
}

/// Judges the rail by the vehicle's range, lowest and highest good value in kPa.
pub fn judge(entry: &RailEntry, range: Option<[f64; 2]>) -> Rail {
    let number = |value: &Option<toml::Spanned<f64>>| value.as_ref().map(|value| *value.get_ref());
    let pressure_kpa = number(&entry.pressure_kpa);
    let later_kpa = number(&entry.after_ten_minutes_kpa);
    let within = |(pressure, [low, high]): (f64, [f64; 2])| (low..=high).contains(&pressure);
    Rail {
        pressure_kpa,
        in_range: pressure_kpa.zip(range).map(within),
        fall_in_ten_minutes_kpa: pressure_kpa
            .zip(later_kpa)
            .map(|(first, later)| first - later),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rail_is_judged_only_by_what_is_known() {
        let entry: RailEntry =
            toml::from_str("pressure_kpa = 300\nafter_ten_minutes_kpa = 220").unwrap();
        let judged = judge(&entry, Some([335.0, 375.0]));
        assert_eq!(judged.in_range, Some(false));
        assert_eq!(judged.fall_in_ten_minutes_kpa, Some(80.0));
        assert_eq!(judge(&entry, None).in_range, None);
    }
}
