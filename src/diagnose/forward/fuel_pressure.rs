//! Rail pressure off: flow goes with the square root of the pressure across the injector, on all
//! banks alike.
//!
//! A regulator is off everywhere by the same; a weak pump or a blocked filter loses more the more
//! fuel is asked for. A controller that reads the pressure in the rail opens the injectors for longer where
//! it is low, and the corrections hardly move.

use crate::series::label::region::ByRegion;

use super::{
    Assumed, Engine, FailingKnown, Model, OnTheBench, Place, Point, Prediction, TrimEffect,
    Variant,
    model::{both, each},
};

/// How the loss grows with the fuel flow.
#[derive(Debug, Clone, Copy)]
pub enum Growth {
    /// This part of it in step with the flow.
    InStep(f64),
    /// All of it with the flow's square (turbulent flow through a filter that lets little through).
    Square,
}

/// Shares are assumed.
const GROWTHS: &Assumed<Growth> = &[
    (0.35, Growth::InStep(0.0)),
    (0.3, Growth::InStep(0.3)),
    (0.2, Growth::InStep(0.8)),
    (0.15, Growth::Square),
];

/// What else happens.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Response {
    /// Nothing.
    None,
    /// The controller makes up for what it reads in the rail, where it reads a high pressure, as the sensor is there for
    /// that, but pumps and injectors have their ends.
    MakesUp,
    /// The cylinders starve: where much fuel lacks, the trims are too slow or not asked, and all misfire now and then.
    Starves,
}

/// Shares are assumed.
const RESPONSES_LOW: &Assumed<Response> = &[
    (0.4, Response::None),
    (0.3, Response::MakesUp),
    (0.3, Response::Starves),
];
const RESPONSES_HIGH: &Assumed<Response> = &[(0.51, Response::None), (0.49, Response::MakesUp)];
/// Share of the firings that fail where a quarter more fuel is needed, from where on, and what is the most (assumed).
const FAILING: f64 = 0.03;
const NEEDED_LOG: f64 = 0.223;
const FAILING_FROM_LOG: f64 = 0.08;
const MOST_FAILING: f64 = 0.2;
/// What is left of the effect where it is made up for.
const LEFT: f64 = 0.15;
/// Most growth of the loss.
const MOST_GROWTH: f64 = 2.5;
const MOST_FLOW: f64 = 3.0;
/// Least pressure ratio that is reckoned with.
const LEAST_RATIO: f64 = 0.05;

/// Pressure is lower by `size` at light cruise.
#[derive(Debug)]
pub struct Low {
    pub growth: Growth,
    pub response: Response,
}

/// Fuel pressure low.
pub fn low() -> Vec<Variant> {
    both(GROWTHS, RESPONSES_LOW, |growth, response| Low {
        growth,
        response,
    })
}

impl Low {
    /// Pressure against the right one at a point of operation, when it is lower by `error` at light
    /// cruise.
    fn ratio(&self, error: f64, point: &Point, engine: Engine<'_>) -> f64 {
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
    fn on_the_road(&self, _place: Place, error: f64, engine: Engine<'_>) -> Prediction {
        let ratio_log = |point: &Point| self.ratio(error, point, engine).ln();
        off(engine.by_region(ratio_log), self.response, engine)
    }

    fn on_the_bench(
        &self,
        sound: OnTheBench,
        _place: Place,
        error: f64,
        engine: Engine<'_>,
    ) -> OnTheBench {
        OnTheBench {
            pressure: [engine.idle(), engine.loaded()]
                .map(|point| self.ratio(error, point, engine)),
            hold: [0.45, 0.25, 0.30],
            ..sound
        }
    }
}

/// Pressure is higher by `size` everywhere.
#[derive(Debug)]
struct High(Response);

/// Fuel pressure high.
pub fn high() -> Vec<Variant> {
    each(RESPONSES_HIGH, High)
}

impl Model for High {
    fn on_the_road(&self, _place: Place, error: f64, engine: Engine<'_>) -> Prediction {
        off(engine.by_region(|_| error.ln_1p()), self.0, engine)
    }

    fn on_the_bench(
        &self,
        sound: OnTheBench,
        _place: Place,
        error: f64,
        _engine: Engine<'_>,
    ) -> OnTheBench {
        OnTheBench {
            pressure: [1.0 + error; 2],
            ..sound
        }
    }
}

/// Pressure against the right one by region, as a logarithm.
fn off(rail_log: ByRegion<f64>, response: Response, engine: Engine<'_>) -> Prediction {
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
        failing_beside: failing,
        failing_elsewhere: failing,
        failing_known: FailingKnown::Steeply,
        ..Prediction::default()
    }
}
