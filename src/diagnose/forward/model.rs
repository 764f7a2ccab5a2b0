//! A cause under one set of assumptions about everything unknown besides its size.

use std::fmt;

use super::{EngineModel, Location, OnTheBench, Prediction};

/// Alternatives for one unknown, each with its probability; the probabilities sum to 1.
pub type Assumed<T> = [(f64, T)];

/// The single alternative of what is not unknown.
const NOTHING: &Assumed<()> = &[(1.0, ())];

/// The effects of a cause under one set of assumptions about everything unknown besides its size.
pub trait Model: fmt::Debug {
    /// Predicts what the car would report. Sizes are shares: 0.25 for 25 %.
    fn on_the_road(&self, location: Location, size: f64, engine: EngineModel<'_>) -> Prediction;

    /// Predicts what the bench would show; `sound` is a sound engine whose failing firings do no work.
    fn on_the_bench(
        &self,
        sound: OnTheBench,
        _location: Location,
        _size: f64,
        _engine: EngineModel<'_>,
    ) -> OnTheBench {
        sound
    }
}

/// A model with its probability among the models of its cause.
#[derive(Debug)]
pub struct Variant {
    /// Probability of the model's assumptions, 0 to 1.
    pub weight: f64,
    /// The model.
    pub model: Box<dyn Model>,
}

impl Variant {
    /// A variant with this probability.
    pub fn new(weight: f64, model: impl Model + 'static) -> Self {
        Self {
            weight,
            model: Box::new(model),
        }
    }

    /// Predicts a cause of this size at this place, on the road and on the bench.
    pub fn predict(&self, location: Location, size: f64, engine: EngineModel<'_>) -> Prediction {
        let on_the_road = self.model.on_the_road(location, size, engine);
        let sound = OnTheBench::with_failing(&on_the_road);
        Prediction {
            bench: self.model.on_the_bench(sound, location, size, engine),
            ..on_the_road
        }
    }
}

/// One variant for every combination of three unknowns.
pub fn combined<A: Copy, B: Copy, C: Copy, M: Model + 'static>(
    first: &Assumed<A>,
    second: &Assumed<B>,
    third: &Assumed<C>,
    model: impl Fn(A, B, C) -> M,
) -> Vec<Variant> {
    let mut all = Vec::new();
    for (first_weight, a) in first {
        for (second_weight, b) in second {
            all.extend(third.iter().map(|(third_weight, c)| {
                Variant::new(
                    first_weight * second_weight * third_weight,
                    model(*a, *b, *c),
                )
            }));
        }
    }
    all
}

/// One variant for every alternative of one unknown.
pub fn each<A: Copy, M: Model + 'static>(
    assumed: &Assumed<A>,
    model: impl Fn(A) -> M,
) -> Vec<Variant> {
    combined(assumed, NOTHING, NOTHING, |a, (), ()| model(a))
}

/// One variant for every combination of two unknowns.
pub fn both<A: Copy, B: Copy, M: Model + 'static>(
    first: &Assumed<A>,
    second: &Assumed<B>,
    model: impl Fn(A, B) -> M,
) -> Vec<Variant> {
    combined(first, second, NOTHING, |a, b, ()| model(a, b))
}
