//! Coil resistance: brought to 20 °C and held against its range.

/// Relative change of copper's resistance per kelvin, from 20 °C (as printed in common tables).
const COPPER_PER_K: f64 = 0.003_93;
/// Below this a coil is shorted, ohms: under half of what the lowest class of coils has.
const SHORT_OHMS: f64 = 1.0;
/// Above this it is open, ohms.
const OPEN_OHMS: f64 = 1_000.0;
/// Line between the two classes of coils, ohms (engine-computer help page).
const CLASS_LINE_OHMS: f64 = 6.0;
/// Good coils of the high class at 20 °C, ohms (common practice).
const HIGH_CLASS_OHMS: [f64; 2] = [12.0, 17.0];
/// Good coils of the low class, ohms (engine wiki page).
const LOW_CLASS_OHMS: [f64; 2] = [2.0, 3.0];

/// What a coil's resistance says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Electrical {
    /// Within the range.
    Ok,
    /// No way through: dead.
    Open,
    /// Hardly any resistance: dead.
    Short,
    /// Neither open nor short, yet outside the range.
    OutOfRange,
    /// Not measured, or without the temperature.
    Unknown,
}

/// A resistance read at `temperature_c` as it would be at 20 °C.
pub fn at_20_c(ohms: f64, temperature_c: f64) -> f64 {
    ohms / (1.0 + COPPER_PER_K * (temperature_c - 20.0))
}

/// The range to go by: the vehicle's own, or by the class of the set's median.
pub fn range(own: Option<[f64; 2]>, at_20_c: &[f64]) -> [f64; 2] {
    let mut sorted: Vec<f64> = at_20_c
        .iter()
        .copied()
        .filter(|ohms| ohms.is_finite())
        .collect();
    sorted.sort_by(f64::total_cmp);
    let is_low = sorted
        .get(sorted.len() / 2)
        .is_some_and(|median| *median < CLASS_LINE_OHMS);
    own.unwrap_or(if is_low {
        LOW_CLASS_OHMS
    } else {
        HIGH_CLASS_OHMS
    })
}

/// What a reading says; without the temperature only open and short can be told.
pub fn electrical(read_ohms: Option<f64>, at_20_c: Option<f64>, range: [f64; 2]) -> Electrical {
    match (read_ohms, at_20_c) {
        (Some(read), _) if read > OPEN_OHMS => Electrical::Open,
        (Some(read), _) if read < SHORT_OHMS => Electrical::Short,
        (_, Some(ohms)) if (range[0]..=range[1]).contains(&ohms) => Electrical::Ok,
        (_, Some(_)) => Electrical::OutOfRange,
        _ => Electrical::Unknown,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hot_coil_is_judged_as_it_would_be_cold() {
        // 12.0 ohms at 20 °C read 14.83 at 80 °C: derived from the copper coefficient by hand.
        assert!((at_20_c(14.83, 80.0) - 12.0).abs() < 0.005);
        // Read hot, 14.3 to 15.3 can be a good 11.6 to 12.4 (four factory pages give that range).
        for read in [14.35, 15.3] {
            let cold = at_20_c(read, 80.0);
            assert_eq!(
                electrical(Some(read), Some(cold), [11.6, 12.4]),
                Electrical::Ok,
                "{cold}"
            );
        }
    }

    #[test]
    fn dead_coils_are_told_even_without_a_temperature() {
        let range = range(None, &[14.1, 14.3, 14.2]);
        assert_eq!(range, HIGH_CLASS_OHMS);
        assert_eq!(
            electrical(Some(f64::INFINITY), None, range),
            Electrical::Open
        );
        assert_eq!(electrical(Some(0.2), None, range), Electrical::Short);
        assert_eq!(electrical(Some(14.0), None, range), Electrical::Unknown);
        assert_eq!(electrical(None, None, range), Electrical::Unknown);
        assert_eq!(
            electrical(Some(20.0), Some(20.0), range),
            Electrical::OutOfRange
        );
    }

    #[test]
    fn a_set_of_low_coils_is_held_against_its_own_class() {
        assert_eq!(range(None, &[2.4, 2.5, 2.3]), LOW_CLASS_OHMS);
        assert_eq!(range(Some([1.0, 9.0]), &[2.4]), [1.0, 9.0]);
    }
}
