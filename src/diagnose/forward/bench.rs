//! What each cause would make the bench readings look like, in one place. Chances and spreads are common practice where no
//! source stands beside them.

use crate::cause::Cause;

use super::{Engine, Place, Prediction, Unknown, fuel_pressure, injector};

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

/// Smallest flow and work reckoned with.
const LEAST: f64 = 0.02;

/// Drops a minute that the fuel of one cylinder at warm idle makes: some 4 mL/min (1.6 g/s of air a litre, half a litre,
/// 14.7 by mass, 0.745 g/mL) in drops of 0.03 mL (common practice: 0.02 to 0.05).
const DROPS_OF_IDLE_FUEL: f64 = 140.0;

/// What a cause of this size shows on the bench; `prediction` is what it does on the road.
pub fn of(
    cause: Cause,
    place: Place,
    size: f64,
    unknown: Unknown,
    prediction: &Prediction,
    engine: Engine<'_>,
) -> OnTheBench {
    let [failing, ..] = prediction.failing;
    let [beside, ..] = prediction.failing_beside;
    // a firing that fails does no work
    let sound = OnTheBench {
        power: 1.0 - failing,
        power_beside: 1.0 - beside,
        ..OnTheBench::SOUND
    };
    match cause {
        // a lean charge does less work, about as much as it lacks fuel
        Cause::InjectorRestricted => OnTheBench {
            flow: (1.0 - size).max(LEAST),
            power: (1.0 - size).max(LEAST) * sound.power,
            silent: 0.03,
            ..sound
        },
        Cause::InjectorsRestrictedSeveral => {
            let others = (engine.cylinders_at(place) - 1.0).max(1.0);
            let unevenness = unknown.shape;
            let flow = (1.0 - size * (1.0 + unevenness)).max(LEAST);
            OnTheBench {
                flow,
                flow_beside: (1.0 - size * (1.0 - unevenness / others)).min(1.0),
                // the others beside the worst lie as far apart as they are assumed to misfire apart
                flow_spread: injector::SPREAD_BESIDE * unevenness * size,
                power: flow / (1.0 - size).max(LEAST) * sound.power,
                ..sound
            }
        }
        Cause::InjectorDead => dead(unknown.way, sound),
        // half a millilitre a minute empties a rail, which gives up one to three, well within ten; some drip only when hot
        // or shut late, and are tight when shut
        Cause::InjectorLeaking => OnTheBench {
            drops_per_minute: DROPS_OF_IDLE_FUEL * size,
            hold: [0.15, 0.10, 0.75],
            ..sound
        },
        Cause::FuelPressureLow => OnTheBench {
            pressure: [engine.idle(), engine.loaded()]
                .map(|point| fuel_pressure::ratio(size, unknown.shape, point, engine)),
            hold: [0.45, 0.25, 0.30],
            ..sound
        },
        Cause::FuelPressureHigh => OnTheBench {
            pressure: [1.0 + size; 2],
            ..sound
        },
        Cause::CompressionLow => OnTheBench {
            power: (1.0 - size).max(LEAST) * sound.power,
            ..sound
        },
        _ => sound,
    }
}

/// A dead injector shows one of three things together: a broken coil, a needle that does not move, or no pulse at a sound
/// injector, which a bench or a tester of its own drives all the same.
fn dead(way: f64, sound: OnTheBench) -> OnTheBench {
    let dead = OnTheBench {
        silent: 0.95,
        power: 0.0,
        ..sound
    };
    match way {
        injector::BY_ITS_COIL => OnTheBench {
            gives_nothing: 0.97,
            coil: [0.90, 0.05],
            ..dead
        },
        injector::STUCK => OnTheBench {
            gives_nothing: 0.95,
            silent: 0.80,
            ..dead
        },
        // measured through its wiring the coil may look open
        _ => OnTheBench {
            gives_nothing: 0.10,
            coil: [0.10, 0.02],
            no_pulse: 0.95,
            ..dead
        },
    }
}
