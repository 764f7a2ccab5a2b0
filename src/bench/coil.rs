//! Winding resistance of injectors: corrected to 20 °C and compared with its range and the rest of the set.

use crate::vehicle::{Injection, Vehicle};

/// Relative change of copper's resistance per kelvin, from 20 °C (as printed in common tables).
const COPPER_PER_K: f64 = 0.003_93;
/// Resistance below which a winding is shorted, ohms: under half of the lowest class of windings.
const SHORT_OHMS: f64 = 1.0;
/// Resistance below which a winding of direct injection is shorted, ohms: its solenoids may have little more than one
/// ohm (common practice).
const SHORT_DIRECT_OHMS: f64 = 0.3;
/// Resistance above which a solenoid's winding is open, ohms (assumed).
const OPEN_OHMS: f64 = 1_000.0;
/// Resistance above which any injector is open, ohms: piezo stacks of direct injection have 150 to 250 kΩ (common
/// practice).
const OPEN_DIRECT_OHMS: f64 = 1_000_000.0;
/// Resistance that separates the low and the high class of windings, ohms (engine-computer help page).
const CLASS_LINE_OHMS: f64 = 6.0;
/// Good windings of the high class at 20 °C, ohms (common practice).
const HIGH_CLASS_OHMS: [f64; 2] = [12.0, 17.0];
/// Good windings of the low class of port injection at 20 °C, ohms (engine wiki page).
const LOW_CLASS_OHMS: [f64; 2] = [2.0, 3.0];
/// Distance from the middle of its set from which a winding is odd, as a share: 3 Ω in a set of 11 to 14.5 (factory
/// page, 2017).
const FELLOWS: f64 = 0.23;
/// Relative error of a usual multimeter besides its last digit (common practice).
const METER_SHARE: f64 = 0.01;
/// Error of a winding's temperature, K (common practice).
const TEMPERATURE_K: f64 = 3.0;

/// Verdict on a winding's resistance.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Electrical {
    /// Within the range and like the rest of the set.
    Ok,
    /// No connection: dead.
    Open,
    /// Hardly any resistance: dead.
    Short,
    /// Neither open nor short, yet outside the range or unlike the rest of the set, by more than the meter's error.
    OutOfRange,
    /// Not measured, no temperature, no range, or closer to the limit than the meter can decide.
    Unknown,
}

impl Electrical {
    /// Whether the injector is dead because of its winding.
    pub const fn is_dead(self) -> bool {
        matches!(self, Self::Open | Self::Short)
    }
}

/// Resistance at 20 °C of a copper winding that reads `ohms` at `temperature_c`.
pub fn at_20_c(ohms: f64, temperature_c: f64) -> f64 {
    ohms / (1.0 + COPPER_PER_K * (temperature_c - 20.0))
}

/// What the windings of a set are judged by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standard {
    /// Good values at 20 °C, ohms; `None` where only the vehicle's own range could decide.
    pub range: Option<[f64; 2]>,
    short_below: f64,
    open_above: f64,
    /// Middle of the set as read, ohms; `None` with fewer than three windings.
    middle: Option<f64>,
    step: f64,
}

impl Standard {
    /// The standard for a set of readings; `step` is the meter's last digit, ohms.
    pub fn of(vehicle: &Vehicle, read: &[Option<f64>], step: f64) -> Self {
        let mut sorted: Vec<f64> = read.iter().flatten().copied().collect();
        sorted.sort_by(f64::total_cmp);
        let middle = sorted.get(sorted.len() / 2).copied();
        let direct = vehicle.injection == Some(Injection::Direct);
        let is_low = middle.is_some_and(|middle| middle < CLASS_LINE_OHMS);
        let is_piezo = middle.is_some_and(|middle| middle > OPEN_OHMS && middle.is_finite());
        let range = match vehicle.coil_ohms {
            Some(own) => Some(own),
            None if direct || is_piezo => None,
            None if is_low => (vehicle.injection.is_some()).then_some(LOW_CLASS_OHMS),
            None => Some(HIGH_CLASS_OHMS),
        };
        let (short_below, open_above) = match vehicle.coil_ohms {
            Some([low, high]) => ((0.5 * low).min(SHORT_OHMS), (10.0 * high).max(OPEN_OHMS)),
            None if direct => (SHORT_DIRECT_OHMS, OPEN_DIRECT_OHMS),
            None if is_piezo => (SHORT_OHMS, OPEN_DIRECT_OHMS),
            None => (SHORT_OHMS, OPEN_OHMS),
        };
        Self {
            range,
            short_below,
            open_above,
            middle: middle.filter(|middle| sorted.len() > 2 && middle.is_finite()),
            step,
        }
    }

    /// Error of a reading, ohms.
    fn doubt(&self, read: f64) -> f64 {
        self.step + METER_SHARE * read
    }

    /// Verdict on a reading; without the temperature only open, short and odd windings can be recognised.
    pub fn judge(&self, read: Option<f64>, temperature_c: Option<f64>) -> Electrical {
        let Some(read) = read else {
            return Electrical::Unknown;
        };
        if read > self.open_above {
            return Electrical::Open;
        }
        if read < self.short_below {
            return Electrical::Short;
        }
        let doubt = self.doubt(read);
        // all windings of a set are equally warm
        let odd = |middle: f64| (read - middle).abs() - doubt > FELLOWS * middle;
        if self.middle.is_some_and(odd) {
            return Electrical::OutOfRange;
        }
        let Some(([low, high], temperature_c)) = self.range.zip(temperature_c) else {
            return Electrical::Unknown;
        };
        let cold = at_20_c(read, temperature_c);
        let doubt = at_20_c(doubt, temperature_c) + COPPER_PER_K * TEMPERATURE_K * cold;
        match cold {
            inside if (low..=high).contains(&inside) => Electrical::Ok,
            near if near + doubt >= low && near - doubt <= high => Electrical::Unknown,
            _ => Electrical::OutOfRange,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(own: Option<[f64; 2]>, injection: Option<Injection>, read: &[f64]) -> Standard {
        let vehicle = Vehicle {
            coil_ohms: own,
            injection,
            ..Vehicle::default()
        };
        let read: Vec<Option<f64>> = read.iter().copied().map(Some).collect();
        Standard::of(&vehicle, &read, 0.1)
    }

    #[test]
    fn a_hot_coil_is_judged_as_it_would_be_cold() {
        // 12.0 ohms at 20 °C read 14.83 at 80 °C: derived from the copper coefficient by hand.
        assert!((at_20_c(14.83, 80.0) - 12.0).abs() < 0.005);
        // Read hot, 14.3 to 15.3 can be a good 11.6 to 12.4 (four factory pages give that range).
        let standard = of(Some([11.6, 12.4]), None, &[]);
        for read in [14.35, 15.3] {
            assert_eq!(standard.judge(Some(read), Some(80.0)), Electrical::Ok);
        }
        // by hand: 15.6 hot is 12.62 cold, off by 0.22, but the meter and the temperature leave 0.35 open
        assert_eq!(standard.judge(Some(15.6), Some(80.0)), Electrical::Unknown);
        assert_eq!(
            standard.judge(Some(16.5), Some(80.0)),
            Electrical::OutOfRange
        );
    }

    #[test]
    fn dead_coils_are_reported_even_without_a_temperature() {
        let standard = of(None, None, &[14.1, 14.3, 14.2]);
        assert_eq!(standard.range, Some(HIGH_CLASS_OHMS));
        let judge = |ohms| standard.judge(ohms, None);
        assert_eq!(judge(Some(f64::INFINITY)), Electrical::Open);
        assert_eq!(judge(Some(0.2)), Electrical::Short);
        assert_eq!(judge(Some(14.0)), Electrical::Unknown);
        assert_eq!(judge(None), Electrical::Unknown);
        // 20 beside fellows of 14.2 is odd at any temperature
        assert_eq!(judge(Some(20.0)), Electrical::OutOfRange);
    }

    #[test]
    fn low_coils_are_compared_with_their_own_range_only() {
        let low = [2.4, 2.5, 2.3];
        assert_eq!(
            of(None, Some(Injection::Port), &low).range,
            Some(LOW_CLASS_OHMS)
        );
        assert_eq!(of(None, None, &low).range, None);
        let direct = of(None, Some(Injection::Direct), &[1.5, 1.6, 1.5]);
        assert_eq!(direct.judge(Some(1.5), Some(20.0)), Electrical::Unknown);
        assert_eq!(direct.judge(Some(0.1), Some(20.0)), Electrical::Short);
        let own = of(Some([1.4, 1.8]), Some(Injection::Direct), &[1.5, 1.6, 1.5]);
        assert_eq!(own.judge(Some(1.5), Some(20.0)), Electrical::Ok);
    }

    #[test]
    fn a_piezo_stack_is_not_an_open_coil() {
        let piezo = of(None, Some(Injection::Direct), &[180e3, 182e3, 179e3]);
        assert_eq!(piezo.judge(Some(180e3), Some(20.0)), Electrical::Unknown);
        assert_eq!(piezo.judge(Some(f64::INFINITY), None), Electrical::Open);
    }
}
