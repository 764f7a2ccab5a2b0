//! What a cause would make the bench readings look like. Chances and spreads are common practice where no source stands
//! beside them.

use crate::series::label::region::Region;

use super::Prediction;

/// Smallest flow and work reckoned with.
pub const LEAST: f64 = 0.02;

/// What a cause would show on the bench. The default is a sound engine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OnTheBench {
    /// Flow of the injector meant against a clean one.
    pub flow: f64,
    /// Flow of the others that the cause reaches.
    pub flow_beside: f64,
    /// How far the flows lie from these beside what clean ones do, as a share.
    pub flow_spread: f64,
    /// Chance that the injector meant gives nothing at all instead.
    pub gives_nothing: f64,
    /// Chances of its coil: open or shorted, out of range.
    pub coil: [f64; 2],
    /// Chance that it does not click.
    pub silent: f64,
    /// Chance that no pulse arrives at it.
    pub no_pulse: f64,
    /// Drops a minute that it lets through when shut; 0 where its seat is like any other.
    pub drops_per_minute: f64,
    /// Work of the cylinder meant at idle, against a sound one.
    pub power: f64,
    /// Work of the others that the cause reaches.
    pub power_beside: f64,
    /// Rail pressure against the right one, at idle and under load.
    pub pressure: [f64; 2],
    /// Chances of the rail after ten minutes: holds, sinks, leaks.
    pub hold: [f64; 3],
}

impl OnTheBench {
    /// What any sound injector shows: a slip of the meter, a click not heard, a drop that did not count.
    const SOUND: Self = Self {
        flow: 1.0,
        flow_beside: 1.0,
        flow_spread: 0.0,
        gives_nothing: 0.0,
        coil: [0.002, 0.02],
        silent: 0.02,
        no_pulse: 0.005,
        drops_per_minute: 0.0,
        power: 1.0,
        power_beside: 1.0,
        pressure: [1.0; 2],
        // pumps and regulators leak too
        hold: [0.72, 0.18, 0.10],
    };

    /// A sound engine on which firings fail as predicted: they do no work.
    pub fn with_failing(prediction: &Prediction) -> Self {
        Self {
            power: 1.0 - prediction.failing[Region::WarmIdle],
            power_beside: 1.0 - prediction.failing_beside[Region::WarmIdle],
            ..Self::SOUND
        }
    }

    /// With another cause at work that names no cylinder: it reaches all of them, and the rail.
    pub fn and(mut self, other: &Self) -> Self {
        self.flow *= other.flow_beside;
        self.flow_beside *= other.flow_beside;
        self.flow_spread = self.flow_spread.hypot(other.flow_spread);
        self.power *= other.power_beside;
        self.power_beside *= other.power_beside;
        for (ratio, more) in self.pressure.iter_mut().zip(other.pressure) {
            *ratio *= more;
        }
        // the rail leaks by whichever leaks more
        let [own, others] = [&self.hold, &other.hold].map(|[holds, ..]| *holds);
        if others < own {
            self.hold = other.hold;
        }
        self
    }

    /// The same for the injectors that the cause does not reach.
    pub const fn elsewhere() -> Self {
        Self::SOUND
    }
}

impl Default for OnTheBench {
    fn default() -> Self {
        Self::SOUND
    }
}
