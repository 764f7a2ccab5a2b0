//! Rail pressure off: injector flow goes with the square root of the pressure across the injector, on all banks alike.
//!
//! A regulator is off by the same ratio everywhere; a weak pump or a blocked filter loses more the more fuel is drawn.
//! A controller that reads the rail pressure opens the injectors for longer where it is low, and the fuel trims hardly
//! move.

use crate::series::label::region::ByRegion;

use super::{
    Assumed, EngineModel, FailingKnown, Location, Model, OnTheBench, Point, Prediction, TrimEffect,
    Variant,
    model::{both, each},
};

/// How the pressure loss grows with the fuel flow.
#[derive(Debug, Clone, Copy)]
pub enum Growth {
    /// This part of the loss, 0 to 1, is proportional to the flow.
    InStep(f64),
    /// The loss is proportional to the square of the flow (turbulent flow through a restricted filter).
    Square,
}

/// How the pressure loss grows with the fuel flow, with probabilities (assumed).
const GROWTHS: &Assumed<Growth> = &[
    (0.35, Growth::InStep(0.0)),
    (0.3, Growth::InStep(0.3)),
    (0.2, Growth::InStep(0.8)),
    (0.15, Growth::Square),
];

/// What the engine does about a wrong pressure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Response {
    /// The engine does nothing about it.
    None,
    /// The controller reads the high rail pressure and compensates, as the sensor is there for that, within the limits
    /// of pump and injectors.
    MakesUp,
    /// The cylinders starve: where much fuel is missing, the trims are too slow or not active, and all cylinders
    /// misfire now and then.
    Starves,
}

/// What the engine does about a low pressure, with probabilities (assumed).
const RESPONSES_LOW: &Assumed<Response> = &[
    (0.4, Response::None),
    (0.3, Response::MakesUp),
    (0.3, Response::Starves),
];
/// What the engine does about a high pressure, with probabilities (assumed).
const RESPONSES_HIGH: &Assumed<Response> = &[(0.51, Response::None), (0.49, Response::MakesUp)];
/// Share of firings that fail where a quarter more fuel is needed (assumed).
const FAILING: f64 = 0.03;
/// Logarithm of the fuel needed at which the share [`FAILING`] fails: ln 1.25.
const NEEDED_LOG: f64 = 0.223;
/// Logarithm of the fuel needed from which firings begin to fail (assumed).
const FAILING_FROM_LOG: f64 = 0.08;
/// Largest share of firings that fail on a starved engine, 0 to 1 (assumed).
const MOST_FAILING: f64 = 0.2;
/// Share of the pressure error's effect on mixture that remains where the controller compensates, 0 to 1 (assumed).
const LEFT: f64 = 0.15;
/// Largest fuel flow, as a multiple of light cruise's, up to which a proportional loss grows (assumed).
const MOST_GROWTH: f64 = 2.5;
/// Largest fuel flow, as a multiple of light cruise's, up to which a quadratic loss grows (assumed).
const MOST_FLOW: f64 = 3.0;
/// Smallest ratio of the pressure to the right one that is considered (assumed; it keeps the logarithm finite).
const LEAST_RATIO: f64 = 0.05;

/// Fuel pressure that is lower by the share `size` at light cruise.
#[derive(Debug)]
pub struct Low {
    pub growth: Growth,
    pub response: Response,
}

/// Variants of low fuel pressure.
pub fn low() -> Vec<Variant> {
    both(GROWTHS, RESPONSES_LOW, |growth, response| Low {
        growth,
        response,
    })
}

impl Low {
    /// Ratio of the pressure to the right one at an operating point, where it is lower by the share `error` at light
    /// cruise.
    fn ratio(&self, error: f64, point: &Point, engine: EngineModel<'_>) -> f64 {
        let cruise = engine.cruise().air.max(0.1);
        let flow = (point.air / cruise).min(MOST_GROWTH);
        let lost = match self.growth {
            Growth::Square => error * (point.air / cruise).min(MOST_FLOW).powi(2),
            Growth::InStep(part) => error * (1.0 - part + part * flow),
        };
        (1.0 - lost).max(LEAST_RATIO)
    }
}

impl Model for Low {
    fn on_the_road(&self, _location: Location, error: f64, engine: EngineModel<'_>) -> Prediction {
        let ratio_log = |point: &Point| self.ratio(error, point, engine).ln();
        off(engine.by_region(ratio_log), self.response, engine)
    }

    fn on_the_bench(
        &self,
        sound: OnTheBench,
        _location: Location,
        error: f64,
        engine: EngineModel<'_>,
    ) -> OnTheBench {
        OnTheBench {
            pressure: [engine.idle(), engine.loaded()]
                .map(|point| self.ratio(error, point, engine)),
            hold: [0.45, 0.25, 0.30],
            ..sound
        }
    }
}

/// Fuel pressure that is higher by the share `size` everywhere.
#[derive(Debug)]
struct High(Response);

/// Variants of high fuel pressure.
pub fn high() -> Vec<Variant> {
    each(RESPONSES_HIGH, High)
}

impl Model for High {
    fn on_the_road(&self, _location: Location, error: f64, engine: EngineModel<'_>) -> Prediction {
        off(engine.by_region(|_| error.ln_1p()), self.0, engine)
    }

    fn on_the_bench(
        &self,
        sound: OnTheBench,
        _location: Location,
        error: f64,
        _engine: EngineModel<'_>,
    ) -> OnTheBench {
        OnTheBench {
            pressure: [1.0 + error; 2],
            ..sound
        }
    }
}

/// Prediction for a rail whose pressure ratio to the right one, by region and as a logarithm, is `rail_log`.
fn off(rail_log: ByRegion<f64>, response: Response, engine: EngineModel<'_>) -> Prediction {
    let left = if engine.reads_high_rail && response == Response::MakesUp {
        LEFT
    } else {
        1.0
    };
    let mut mixture = TrimEffect::default();
    for bank in engine.banks() {
        mixture[bank] = rail_log.map(|_, log| -0.5 * left * log);
    }
    let failing = if response == Response::Starves {
        rail_log.map(|_, log| {
            let lacks = (-0.5 * log - FAILING_FROM_LOG) / (NEEDED_LOG - FAILING_FROM_LOG);
            (FAILING * lacks.max(0.0)).min(MOST_FAILING)
        })
    } else {
        ByRegion::default()
    };
    Prediction {
        mixture,
        rail_log,
        failing,
        failing_others: failing,
        failing_elsewhere: failing,
        failing_known: FailingKnown::Steeply,
        ..Prediction::default()
    }
}
