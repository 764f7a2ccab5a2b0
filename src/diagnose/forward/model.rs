//! A cause under one assumption about all that is not known of it beside its size.

use std::fmt;

use super::{Engine, OnTheBench, Place, Prediction};

/// Assumptions about a single thing that is not known, each with its probability; they sum to 1.
pub type Assumed<T> = [(f64, T)];

/// Nothing more is unknown.
pub const NOTHING: &Assumed<()> = &[(1.0, ())];

/// What a cause does, with everything assumed that is not known of it beside its size.
pub trait Model: fmt::Debug {
    /// What the car would report. Sizes are shares: 0.25 for 25 %.
    fn on_the_road(&self, place: Place, size: f64, engine: Engine<'_>) -> Prediction;

    /// What the bench would show; `sound` is a sound engine whose failing firings do no work.
    fn on_the_bench(
        &self,
        sound: OnTheBench,
        _place: Place,
        _size: f64,
        _engine: Engine<'_>,
    ) -> OnTheBench {
        sound
    }
}

/// A model with its probability among those of its cause.
#[derive(Debug)]
pub struct Variant {
    /// How probable its assumptions are.
    pub weight: f64,
    /// What they lead to.
    pub model: Box<dyn Model>,
}

impl Variant {
    /// A model of this weight.
    pub fn new(weight: f64, model: impl Model + 'static) -> Self {
        Self {
            weight,
            model: Box::new(model),
        }
    }

    /// What a cause of this size at this place would look like, on the road and on the bench.
    pub fn predict(&self, place: Place, size: f64, engine: Engine<'_>) -> Prediction {
        let on_the_road = self.model.on_the_road(place, size, engine);
        let sound = OnTheBench::with_failing(&on_the_road);
        Prediction {
            bench: self.model.on_the_bench(sound, place, size, engine),
            ..on_the_road
        }
    }
}

/// A model for every combination of what is assumed.
pub fn combined<A: Copy, B: Copy, C: Copy, D: Copy, M: Model + 'static>(
    first: &Assumed<A>,
    second: &Assumed<B>,
    third: &Assumed<C>,
    fourth: &Assumed<D>,
    model: impl Fn(A, B, C, D) -> M,
) -> Vec<Variant> {
    let mut all = Vec::new();
    for (first_weight, a) in first {
        for (second_weight, b) in second {
            for (third_weight, c) in third {
                all.extend(fourth.iter().map(|(fourth_weight, d)| {
                    let weight = fourth_weight * first_weight * second_weight * third_weight;
                    Variant::new(weight, model(*a, *b, *c, *d))
                }));
            }
        }
    }
    all
}

/// A model for everything that is assumed of one thing.
pub fn each<A: Copy, M: Model + 'static>(
    assumed: &Assumed<A>,
    model: impl Fn(A) -> M,
) -> Vec<Variant> {
    combined(assumed, NOTHING, NOTHING, NOTHING, |a, (), (), ()| model(a))
}

/// A model for every combination of what is assumed of two things.
pub fn both<A: Copy, B: Copy, M: Model + 'static>(
    first: &Assumed<A>,
    second: &Assumed<B>,
    model: impl Fn(A, B) -> M,
) -> Vec<Variant> {
    combined(first, second, NOTHING, NOTHING, |a, b, (), ()| model(a, b))
}
