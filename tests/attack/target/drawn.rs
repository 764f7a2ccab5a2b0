//! Captures made up from nothing: every quantity that the judgement looks at, in courses that no car drives.

use super::super::{dice::Dice, mutate};

const BEGIN: &str = "# capture 1\n# {\"started\":\"2026-11-25T08:00:00Z\",\"vehicle\":{\"label\":\"van 3\",\"cylinders\":4}}\n\
    t_us,kind,ecu,request,response\n";

/// Quantities by request, with the usual range of their values.
const QUANTITIES: [(&str, f64, f64); 24] = [
    ("010C", 0.0, 6500.0),
    ("0104", 0.0, 100.0),
    ("0106", -30.0, 30.0),
    ("0107", -30.0, 30.0),
    ("0108", -30.0, 30.0),
    ("0109", -30.0, 30.0),
    ("010D", 0.0, 130.0),
    ("0105", -20.0, 110.0),
    ("0110", 0.0, 200.0),
    ("010B", 20.0, 105.0),
    ("010F", -20.0, 60.0),
    ("0103", 0.0, 16.0),
    ("012E", 0.0, 100.0),
    ("0144", 0.7, 1.3),
    ("0123", 0.0, 20_000.0),
    ("012F", 0.0, 100.0),
    ("0133", 80.0, 105.0),
    ("0152", 0.0, 100.0),
    ("06A20B", 0.0, 30.0),
    ("06A20C", 0.0, 500.0),
    ("06A30C", 0.0, 500.0),
    ("06A40C", 0.0, 500.0),
    ("06A10C", 0.0, 900.0),
    ("0122", 0.0, 500.0),
];

/// A capture of numbers.
pub fn values(dice: &mut Dice) -> Vec<u8> {
    let mut text = BEGIN.as_bytes().to_vec();
    let chosen: Vec<_> = (0..2 + dice.index(16))
        .map(|_| *dice.one_of(&QUANTITIES))
        .collect();
    let mut levels: Vec<f64> = chosen
        .iter()
        .map(|(_, low, high)| dice.between(*low, *high))
        .collect();
    let oddity = *dice.one_of(&[0.0, 0.0, 0.001, 0.02, 0.3]);
    let mut t_us: u64 = if dice.chance(0.1) { dice.seed() } else { 0 };
    for _ in 0..1 + dice.index(600) {
        t_us = if dice.chance(oddity) {
            t_us.saturating_add(1 << dice.index(64))
        } else {
            t_us.saturating_add(200_000 + dice.index(1_600_000) as u64)
        };
        for ((request, low, high), level) in chosen.iter().zip(&mut levels) {
            if dice.chance(0.02) {
                *level = dice.between(*low, *high);
            }
            let counter = request.starts_with("06");
            *level += if counter {
                dice.index(3) as f64
            } else {
                dice.normal((high - low) / 500.0)
            };
            let value = if dice.chance(oddity) {
                String::from_utf8(mutate::number(dice)).unwrap()
            } else {
                format!(
                    "{:.3}",
                    level.clamp(*low, if counter { 65_535.0 } else { *high })
                )
            };
            text.extend(format!("{t_us},value,,{request},{value}\n").bytes());
        }
    }
    text
}

/// A capture in which more controllers answer than any car has.
pub fn many_controllers(dice: &mut Dice) -> Vec<u8> {
    let mut text = BEGIN.as_bytes().to_vec();
    let controllers = 1 << dice.index(13);
    for row in 0..controllers.max(100) {
        let controller = 0x18DA_0000 + row % controllers;
        let answer = *dice.one_of(&[
            "010C,410C0BB8",
            "0106,410680",
            "06A2,46A20C24000000000FFFF",
            "0902,490201484152",
            "03,4300",
        ]);
        text.extend(format!("{},data,{controller:X},{answer}\n", 50_000 * row).bytes());
    }
    text
}
