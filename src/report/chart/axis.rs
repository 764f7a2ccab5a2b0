//! From values to positions: a linear scale with round ticks.

use crate::quantity::minus;

/// Number of ticks aimed at on an axis (assumed).
const WISHED_TICKS: f64 = 5.0;

/// A linear scale.
#[derive(Debug, Clone, Copy)]
pub struct Scale {
    /// Value at the beginning of the axis.
    pub low: f64,
    /// Value at the end of the axis.
    pub high: f64,
    /// Distance between neighbouring ticks, in the unit of the values.
    pub step: f64,
    /// Position of `low`, in drawing units.
    pub from: f64,
    /// Position of `high`, in drawing units.
    pub to: f64,
}

impl Scale {
    /// A scale from position `from` to `to` that holds all finite ones of these values and ends on ticks.
    pub fn over(values: impl IntoIterator<Item = f64>, from: f64, to: f64) -> Self {
        let finite = values.into_iter().filter(|value| value.is_finite());
        let (low, high) = finite.fold((f64::MAX, f64::MIN), |(low, high), value| {
            (low.min(value), high.max(value))
        });
        let (low, high) = if low <= high { (low, high) } else { (0.0, 1.0) };
        let step = round_step((high - low).max(1e-6) / WISHED_TICKS);
        Self {
            low: (low / step).floor() * step,
            high: ((high / step).ceil() * step).max((low / step).floor() * step + step),
            step,
            from,
            to,
        }
    }

    /// Position of a value; values beyond an end are clamped to it.
    pub fn at(&self, value: f64) -> f64 {
        let share = (value - self.low) / (self.high - self.low);
        self.from + share.clamp(0.0, 1.0) * (self.to - self.from)
    }

    /// The values at the ticks.
    pub fn ticks(&self) -> impl Iterator<Item = f64> + use<> {
        let (low, step) = (self.low, self.step);
        let count = ((self.high - low) / step).round() as u32;
        (0..=count).map(move |number| low + f64::from(number) * step)
    }

    /// A tick's number, with no more decimals than the step needs.
    pub fn label(&self, tick: f64) -> String {
        let digits = (-self.step.log10()).ceil().clamp(0.0, 6.0) as usize;
        // no minus sign before a zero
        let tick = if tick.abs() < 0.5 * self.step {
            0.0
        } else {
            tick
        };
        minus(&format!("{tick:.digits$}"))
    }
}

/// The smallest of 1, 2, 5, 10, 20, 50, … that is not below `step`.
fn round_step(step: f64) -> f64 {
    let power = 10_f64.powf(step.log10().floor());
    let found = [1.0, 2.0, 5.0]
        .into_iter()
        .find(|factor| factor * power >= step * 0.999_999);
    found.unwrap_or(10.0) * power
}

/// A coordinate as written to the drawing: to a tenth of a unit, finer than any screen.
pub fn place(coordinate: f64) -> String {
    format!("{coordinate:.1}")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 0 to 23 in about five steps are steps of 5, up to 25.
    #[test]
    fn a_scale_ends_on_round_ticks_and_holds_every_value() {
        let scale = Scale::over([0.0, 23.0, f64::INFINITY], 100.0, 200.0);
        assert_eq!(
            scale.ticks().collect::<Vec<f64>>(),
            [0.0, 5.0, 10.0, 15.0, 20.0, 25.0]
        );
        assert_eq!(scale.at(0.0), 100.0);
        assert_eq!(scale.at(12.5), 150.0);
        assert_eq!(scale.at(f64::INFINITY), 200.0);
        let below = Scale::over([-3.0, 1.0], 0.0, 1.0);
        assert_eq!(below.label(-2.0), "−2");
        assert_eq!(below.label(0.0), "0");
        let small = Scale::over([0.9, 1.04], 0.0, 1.0);
        assert_eq!(small.label(0.95), "0.95");
    }

    #[test]
    fn one_value_or_none_still_makes_a_scale() {
        for values in [vec![], vec![3.0], vec![f64::NAN]] {
            let scale = Scale::over(values, 0.0, 10.0);
            assert!(scale.high > scale.low && scale.ticks().count() < 20);
        }
    }
}
