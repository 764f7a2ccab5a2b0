//! Two causes at once: the common pairs, weighed as faults that have little to do with each other.

use crate::cause::Cause;

use super::{
    engine::Setting,
    evidence::codes::Suspect,
    forward::{self, Place, Prediction},
    hypothesis::Hypothesis,
    prior::Priors,
    readings::Readings,
    seat::{self, Seated},
};

/// A fault of a cylinder or of the injectors …
const FIRST: [Cause; 6] = [
    Cause::InjectorRestricted,
    Cause::InjectorsRestrictedSeveral,
    Cause::InjectorDead,
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
const TOGETHER: f64 = 0.25;
/// A second fault is never oftener beside a first than missing, whatever the priors say.
const MOST_BESIDE: f64 = 1.0;
/// Sizes that are tried of each.
const FIRST_SIZES: usize = 6;
const SECOND_SIZES: usize = 4;

/// A cause with one size at seats of one bank.
struct Scored {
    cause: Cause,
    seats: Vec<Seated>,
    size: Option<f64>,
    /// Weight of the cause with this size, before its seats share it.
    weight: f64,
    prediction: Prediction,
    /// How well it fits alone, seat by seat.
    alone: Vec<f64>,
}

/// An engine as hypothesised, and what it is held against.
struct Pairing<'a> {
    readings: &'a Readings,
    setting: &'a Setting,
    priors: &'a Priors,
}

/// How often a cause is alone, as a share of how common it is: pairs take their weight from their first cause's, so that all
/// ways together are as common as the priors say.
pub fn alone(cause: Cause, priors: &Priors) -> f64 {
    let beside: f64 = seconds(cause).map(|second| beside(second, priors)).sum();
    1.0 / (1.0 + beside)
}

/// The causes that may stand beside a first one.
fn seconds(first: Cause) -> impl Iterator<Item = Cause> {
    let dirty = (first == Cause::IgnitionWeak).then_some(DIRTY);
    let seconds = SECOND.into_iter().chain(dirty);
    seconds.filter(move |_| FIRST.contains(&first))
}

/// How often a second cause stands beside a first, for each time that the first is alone.
fn beside(second: Cause, priors: &Priors) -> f64 {
    let sound = priors.weight(Cause::NoneFound).max(f64::MIN_POSITIVE);
    (TOGETHER * priors.weight(second) / sound).min(MOST_BESIDE)
}

/// Adds the pairs in an engine built this way.
pub fn add(readings: &Readings, setting: &Setting, priors: &Priors, all: &mut Vec<Hypothesis>) {
    let pairing = Pairing {
        readings,
        setting,
        priors,
    };
    let whole = Seated {
        place: Place::default(),
        bank_known: false,
        share: 1.0,
    };
    let second = |cause| pairing.scored(cause, &[whole], SECOND_SIZES);
    let everywhere: Vec<Scored> = SECOND.into_iter().flat_map(second).collect();
    let dirty: Vec<Scored> = second(DIRTY);
    for cause in FIRST {
        let coil = (cause == Cause::IgnitionWeak).then_some(&dirty);
        for group in seat::by_bank(seat::seats(readings, cause, setting)) {
            for first in pairing.scored(cause, &group, FIRST_SIZES) {
                for second in everywhere.iter().chain(coil.into_iter().flatten()) {
                    pairing.join(&first, second, all);
                }
            }
        }
    }
}

impl Pairing<'_> {
    fn scored(&self, cause: Cause, seats: &[Seated], sizes: usize) -> Vec<Scored> {
        let engine = self.readings.engine(self.setting);
        let (Some(any), Some(usual)) = (seats.first(), forward::variants(cause).into_iter().next())
        else {
            return Vec::new();
        };
        let one = |(size, share): (Option<f64>, f64)| {
            let size_share = size.unwrap_or(0.0) / 100.0;
            let prediction = usual.predict(any.place, size_share, engine);
            let prediction = self.readings.left_lean(any.place, prediction);
            let of_bank = self.readings.of_bank(&prediction, self.setting);
            let fit = |seat: &Seated| {
                let suspects = [suspect(cause, seat)];
                let pieces =
                    self.readings
                        .with_cylinder(&of_bank, &suspects, &prediction, self.setting);
                pieces.iter().sum()
            };
            Scored {
                cause,
                size,
                weight: self.priors.weight(cause) * share,
                alone: seats.iter().map(fit).collect(),
                seats: seats.to_vec(),
                prediction,
            }
        };
        let sizes = self.priors.few_sizes(cause, sizes).into_iter();
        sizes.map(one).collect()
    }

    /// Adds the two together, seat by seat of the first.
    fn join(&self, first: &Scored, second: &Scored, all: &mut Vec<Hypothesis>) {
        let of_all_sizes = self.priors.weight(second.cause).max(f64::MIN_POSITIVE);
        let of_its_size = second.weight / of_all_sizes;
        let weight = first.weight
            * alone(first.cause, self.priors)
            * beside(second.cause, self.priors)
            * of_its_size;
        let (Some(other), Some(other_alone)) = (second.seats.first(), second.alone.first()) else {
            return;
        };
        if weight <= 0.0 {
            return;
        }
        let prediction = first.prediction.and(&second.prediction);
        let place = first
            .seats
            .first()
            .map_or(Place::default(), |seat| seat.place);
        let prediction = self.readings.left_lean(place, prediction);
        let of_bank = self.readings.of_bank(&prediction, self.setting);
        for (seat, alone) in first.seats.iter().zip(&first.alone) {
            let suspects = [suspect(first.cause, seat), suspect(second.cause, other)];
            // under the name of the one that fits better alone
            let (main, seated, beside) = if alone >= other_alone {
                (first, seat, suspects[1])
            } else {
                (second, other, suspects[0])
            };
            all.push(Hypothesis {
                cause: main.cause,
                place: seated.place,
                bank_known: seated.bank_known,
                size: main.size,
                beside: Some(beside),
                log_weight: (weight * seat.share).ln() + self.setting.log_weight,
                log_likelihood: self.readings.with_cylinder(
                    &of_bank,
                    &suspects,
                    &prediction,
                    self.setting,
                ),
            });
        }
    }
}

const fn suspect(cause: Cause, seat: &Seated) -> Suspect {
    Suspect {
        cause,
        place: seat.place,
    }
}
