//! What a cause would make the bench readings look like. Probabilities and spreads are common practice where no source
//! is given.

use crate::series::label::region::Region;

use super::Prediction;

/// Smallest flow and work considered, as a share of a sound injector's or cylinder's (assumed; it keeps logarithms
/// finite).
pub const LEAST: f64 = 0.02;

/// Predicted bench readings under a cause. The default is a sound engine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OnTheBench {
    /// Flow of the injector at fault, as a share of a clean one's.
    pub flow: f64,
    /// Flow of the other injectors that the cause affects, as a share of a clean one's.
    pub flow_others: f64,
    /// Standard deviation of the flows around these predictions, beyond what clean injectors differ by, as a share.
    pub flow_spread: f64,
    /// Probability that the injector at fault delivers nothing at all instead.
    pub gives_nothing: f64,
    /// Probabilities that the injector's winding is open or shorted, and that its resistance is out of range.
    pub coil: [f64; 2],
    /// Probability that the injector does not click.
    pub silent: f64,
    /// Probability that no drive pulse arrives at the injector.
    pub no_pulse: f64,
    /// Drops per minute that the closed injector leaks; 0 where its valve seat is like any other.
    pub drops_per_minute: f64,
    /// Work of the cylinder at fault at idle, as a share of a sound one's.
    pub power: f64,
    /// Work of the other cylinders that the cause affects, as a share of a sound one's.
    pub power_others: f64,
    /// Rail pressure as a ratio to the right one, at idle and under load.
    pub pressure: [f64; 2],
    /// Probabilities that the rail holds, sinks or leaks down within ten minutes.
    pub hold: [f64; 3],
}

impl OnTheBench {
    /// Bench readings of any sound injector: its probabilities cover a slip of the meter, a click not heard, a drop
    /// that did not count.
    const SOUND: Self = Self {
        flow: 1.0,
        flow_others: 1.0,
        flow_spread: 0.0,
        gives_nothing: 0.0,
        coil: [0.002, 0.02],
        silent: 0.02,
        no_pulse: 0.005,
        drops_per_minute: 0.0,
        power: 1.0,
        power_others: 1.0,
        pressure: [1.0; 2],
        // pumps and regulators leak too
        hold: [0.72, 0.18, 0.10],
    };

    /// A sound engine on which firings fail as predicted; failed firings do no work.
    pub fn with_failing(prediction: &Prediction) -> Self {
        Self {
            power: 1.0 - prediction.failing[Region::WarmIdle],
            power_others: 1.0 - prediction.failing_others[Region::WarmIdle],
            ..Self::SOUND
        }
    }

    /// Combines this cause with a second one that names no cylinder: it affects all cylinders, and the rail.
    pub fn and(mut self, other: &Self) -> Self {
        self.flow *= other.flow_others;
        self.flow_others *= other.flow_others;
        self.flow_spread = self.flow_spread.hypot(other.flow_spread);
        self.power *= other.power_others;
        self.power_others *= other.power_others;
        for (ratio, more) in self.pressure.iter_mut().zip(other.pressure) {
            *ratio *= more;
        }
        // the larger of the two leaks decides
        let [own, others] = [&self.hold, &other.hold].map(|[holds, ..]| *holds);
        if others < own {
            self.hold = other.hold;
        }
        self
    }

    /// Predicted readings of injectors that the cause does not affect.
    pub const fn elsewhere() -> Self {
        Self::SOUND
    }
}

impl Default for OnTheBench {
    fn default() -> Self {
        Self::SOUND
    }
}
