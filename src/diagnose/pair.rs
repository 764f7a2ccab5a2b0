//! Two causes at once: the common pairs, weighed as faults that have little to do with each other.

use crate::cause::Cause;

use super::{
    engine::Setting,
    forward::{self, Engine, Place, Prediction},
    hypothesis::Hypothesis,
    likelihood::codes::Suspect,
    prior::Priors,
    readings::{Pieces, Readings},
    seat::{self, Seated},
};

/// A fault of a cylinder or of the injectors …
const FIRST: [Cause; 5] = [
    Cause::InjectorRestricted,
    Cause::InjectorsRestrictedSeveral,
    Cause::InjectorLeaking,
    Cause::IgnitionWeak,
    Cause::CompressionLow,
];
/// … with an old one of the whole engine beside it that nobody has noticed.
const SECOND: [Cause; 4] = [
    Cause::IntakeLeak,
    Cause::AirMeterLow,
    Cause::FuelPressureLow,
    Cause::FuelBlend,
];
/// A weak coil on an engine with dirty injectors is as common.
const DIRTY: Cause = Cause::InjectorsRestrictedSeveral;
/// How much rarer two faults are than chance would have it: whoever finds the first often finds the
/// second (assumed).
const TOGETHER: f64 = 0.5;
/// Sizes that are tried of each.
const FIRST_SIZES: usize = 6;
const SECOND_SIZES: usize = 4;

/// A cause with one size, and how well it fits alone.
struct Scored {
    cause: Cause,
    seated: Seated,
    size: Option<f64>,
    weight: f64,
    prediction: Prediction,
    alone: f64,
}

impl Scored {
    const fn suspect(&self) -> Suspect {
        Suspect {
            cause: self.cause,
            place: self.seated.place,
        }
    }
}

/// Adds the pairs in an engine built this way.
pub fn add(readings: &Readings, setting: &Setting, priors: &Priors, all: &mut Vec<Hypothesis>) {
    let engine = Engine {
        setting,
        points: readings.points(),
        banks: readings.banks(),
    };
    let scored = |cause: Cause, seated: Seated, sizes: usize| {
        let first = forward::unknowns(cause).into_iter().next();
        let unknown = first.into_iter();
        let each = unknown.flat_map(move |unknown| {
            let sizes = priors.few_sizes(cause, sizes).into_iter();
            sizes.map(move |(size, share)| {
                let weight = priors.weight(cause) * seated.share * share;
                let size_share = size.unwrap_or(0.0) / 100.0;
                let place = seated.place;
                let prediction = forward::predict(cause, place, size_share, unknown, engine);
                let fit = readings.likelihood(&[Suspect { cause, place }], &prediction, setting);
                Scored {
                    cause,
                    seated,
                    size,
                    weight,
                    prediction,
                    alone: fit.iter().sum(),
                }
            })
        });
        each.collect::<Vec<_>>()
    };
    let whole = Seated {
        place: Place::default(),
        bank_known: false,
        share: 1.0,
    };
    let second = |cause| scored(cause, whole, SECOND_SIZES);
    let everywhere: Vec<Scored> = SECOND.into_iter().flat_map(second).collect();
    let dirty: Vec<Scored> = second(DIRTY);
    let sound = priors.weight(Cause::NoneFound).max(f64::MIN_POSITIVE);
    for cause in FIRST {
        for seated in seat::seats(readings, cause, setting) {
            for first in scored(cause, seated, FIRST_SIZES) {
                let coil = (cause == Cause::IgnitionWeak).then_some(&dirty);
                for second in everywhere.iter().chain(coil.into_iter().flatten()) {
                    let weight = TOGETHER * first.weight * second.weight / sound;
                    if weight <= 0.0 {
                        continue;
                    }
                    let prediction = first.prediction.and(&second.prediction);
                    let suspects = [first.suspect(), second.suspect()];
                    let fit = readings.likelihood(&suspects, &prediction, setting);
                    all.push(joined(
                        &first,
                        second,
                        weight.ln() + setting.log_weight,
                        fit,
                    ));
                }
            }
        }
    }
}

/// The pair under the name of the one that fits better alone.
fn joined(first: &Scored, second: &Scored, log_weight: f64, log_likelihood: Pieces) -> Hypothesis {
    let (main, other) = match first.alone >= second.alone {
        true => (first, second),
        false => (second, first),
    };
    Hypothesis {
        cause: main.cause,
        place: main.seated.place,
        bank_known: main.seated.bank_known,
        size: main.size,
        beside: Some(other.suspect()),
        log_weight,
        log_likelihood,
    }
}
