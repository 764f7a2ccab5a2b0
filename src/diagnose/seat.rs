//! Where a cause may sit in this engine: the engine, a bank, a cylinder, each with its share of the
//! cause's weight.

use crate::{
    bank::Bank,
    cause::{Cause, Seat},
};

use super::{engine::Setting, forward::Place, readings::Readings};

/// A place with its share of the cause's weight.
#[derive(Debug, Clone, Copy)]
pub struct Seated {
    /// Where.
    pub place: Place,
    /// Whether the place's bank is told apart from others by knowledge, not only assumed.
    pub bank_known: bool,
    /// Share of the cause's weight, 0 to 1.
    pub share: f64,
}

impl Seated {
    /// The same seat with each of these cylinders, sharing its weight.
    fn with_each(&self, numbers: &[u8]) -> Vec<Self> {
        let one = |number: &u8| Self {
            place: Place {
                cylinder: Some(*number),
                ..self.place
            },
            bank_known: self.bank_known,
            share: self.share / numbers.len() as f64,
        };
        numbers.iter().map(one).collect()
    }
}

/// Every place where a cause may sit.
pub fn seats(readings: &Readings, cause: Cause, setting: &Setting) -> Vec<Seated> {
    let engine = Seated {
        place: Place::default(),
        bank_known: false,
        share: 1.0,
    };
    let apart = [Cause::IntakeLeakOneBank, Cause::ExhaustBlockedOneBank].contains(&cause);
    match cause.seat() {
        _ if apart && readings.banks().count() < 2 => Vec::new(),
        Seat::Engine if cause == Cause::IntakeLeak => with_nearest(readings, setting, vec![engine]),
        Seat::Engine => vec![engine],
        Seat::Bank if cause == Cause::InjectorsRestrictedSeveral => dirty_seats(readings, setting),
        Seat::Bank if cause == Cause::IntakeLeakOneBank => {
            with_nearest(readings, setting, bank_seats(readings, 1.0))
        }
        Seat::Bank => bank_seats(readings, 1.0),
        Seat::Cylinder => cylinder_seats(readings, setting),
    }
}

/// Seats of one bank, or of the whole engine, together: the corrections cannot tell them apart.
pub fn by_bank(seats: Vec<Seated>) -> Vec<Vec<Seated>> {
    let mut groups: Vec<Vec<Seated>> = Vec::new();
    for seat in seats {
        let same = |group: &&mut Vec<Seated>| {
            let first = group.first();
            first.is_some_and(|first| first.place.bank == seat.place.bank)
        };
        match groups.iter_mut().find(same) {
            Some(group) => group.push(seat),
            None => groups.push(vec![seat]),
        }
    }
    groups
}

/// Every bank alike, sharing `share`.
fn bank_seats(readings: &Readings, share: f64) -> Vec<Seated> {
    let banks = readings.banks().all().map(|bank| Seated {
        place: Place {
            bank: Some(bank),
            cylinder: None,
        },
        bank_known: true,
        share: share / readings.banks().count() as f64,
    });
    banks.collect()
}

/// Several dirty injectors are as often on all banks as on one; any cylinder there may be the
/// worst.
fn dirty_seats(readings: &Readings, setting: &Setting) -> Vec<Seated> {
    let mut seats = bank_seats(
        readings,
        if readings.banks().count() > 1 {
            0.5
        } else {
            1.0
        },
    );
    if readings.banks().count() > 1 {
        seats.push(Seated {
            place: Place::default(),
            bank_known: false,
            share: 0.5,
        });
    }
    with_nearest(readings, setting, seats)
}

/// These seats with each cylinder there that may be hit worst, where cylinders are told apart.
fn with_nearest(readings: &Readings, setting: &Setting, seats: Vec<Seated>) -> Vec<Seated> {
    let numbers = readings.cylinders_told_apart(setting);
    let nearest = |seat: Seated| {
        let meant = |number: &u8| match (seat.place.bank, readings.banks().of(*number)) {
            (Some(meant), Some(bank)) => meant == bank,
            _ => true,
        };
        let here: Vec<u8> = numbers.iter().copied().filter(meant).collect();
        if here.is_empty() {
            vec![seat]
        } else {
            seat.with_each(&here)
        }
    };
    seats.into_iter().flat_map(nearest).collect()
}

/// Each cylinder where counters or codes tell cylinders apart, else one unnamed cylinder a
/// bank.
fn cylinder_seats(readings: &Readings, setting: &Setting) -> Vec<Seated> {
    let numbers = readings.cylinders_told_apart(setting);
    if numbers.is_empty() {
        let banks = readings.banks().all().map(|bank| (None, bank, true));
        return share_out(banks.collect());
    }
    let mut seats = Vec::new();
    for number in numbers {
        match readings.banks().of(number) {
            Some(bank) => seats.push((Some(number), bank, true)),
            None => {
                seats.extend(
                    readings
                        .banks()
                        .all()
                        .map(|bank| (Some(number), bank, false)),
                );
            }
        }
    }
    share_out(seats)
}

fn share_out(seats: Vec<(Option<u8>, Bank, bool)>) -> Vec<Seated> {
    // a cylinder whose bank is open stands once for each bank
    let share = 1.0 / seats.len().max(1) as f64;
    let seated = seats
        .into_iter()
        .map(|(cylinder, bank, bank_known)| Seated {
            place: Place {
                bank: Some(bank),
                cylinder,
            },
            bank_known,
            share,
        });
    seated.collect()
}
