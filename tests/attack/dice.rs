//! Chance, from a seed.

#[path = "../calibration/dice.rs"]
#[allow(
    dead_code,
    clippy::duplicate_mod,
    reason = "part of other examinations, which use more of it"
)]
mod stream;

pub use stream::Dice;

impl Dice {
    /// One of several, each as likely.
    pub fn one_of<'a, T>(&mut self, choices: &'a [T]) -> &'a T {
        &choices[self.index(choices.len())]
    }
}

/// The dice of one input: the same seed, target and number give the same input everywhere.
pub fn of_input(seed: u64, target: &str, number: u64) -> Dice {
    let mut mixed = seed;
    for part in target.bytes().map(u64::from).chain([number]) {
        // Steele, Lea and Flood, "Fast splittable pseudorandom number generators" (2014): the finaliser, from memory
        mixed = (mixed ^ part).wrapping_add(0x9E37_79B9_7F4A_7C15);
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^= mixed >> 31;
    }
    Dice::new(mixed)
}
