//! Which of the 256 items of a service a controller supports.

use std::fmt;

/// A set of item numbers, filled from the support masks that controllers send for items 00, 20, 40,
/// …
#[derive(Clone, Copy, PartialEq, Eq, Default)]
pub struct Supported {
    words: [u64; 4],
}

impl Supported {
    /// Adds the items of the mask that came for item `base`: the highest bit of the first byte is
    /// `base` + 1 (SAE J1979).
    pub fn add_mask(&mut self, base: u8, mask: [u8; 4]) {
        let mask = u32::from_be_bytes(mask);
        for place in 0..32 {
            if mask & (1 << (31 - place)) != 0 {
                self.add(base.wrapping_add(place + 1));
            }
        }
    }

    /// Adds one item.
    pub fn add(&mut self, item: u8) {
        if let Some(word) = self.words.get_mut(usize::from(item / 64)) {
            *word |= 1 << (item % 64);
        }
    }

    /// Whether `item` is supported.
    pub fn contains(&self, item: u8) -> bool {
        let word = self.words.get(usize::from(item / 64));
        word.is_some_and(|word| word & (1 << (item % 64)) != 0)
    }

    /// All supported items, ascending; those that only announce the next mask (20, 40, …) are left
    /// out.
    pub fn items(&self) -> impl Iterator<Item = u8> + '_ {
        (0..=u8::MAX).filter(|item| item % 0x20 != 0 && self.contains(*item))
    }

    /// Whether nothing is supported.
    pub fn is_empty(&self) -> bool {
        self.items().next().is_none()
    }
}

impl fmt::Debug for Supported {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_list()
            .entries(self.items().map(|item| format!("{item:02X}")))
            .finish()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // BE1FA813 is the mask explained most often for service 01: items 01 03-07 0C-11 13 15 1C 1F 20
    // (from memory)
    #[test]
    fn a_mask_counts_from_its_highest_bit() {
        let mut supported = Supported::default();
        supported.add_mask(0x00, [0xBE, 0x1F, 0xA8, 0x13]);
        let items: Vec<u8> = supported.items().collect();
        let expected = [
            0x01, 0x03, 0x04, 0x05, 0x06, 0x07, 0x0C, 0x0D, 0x0E, 0x0F, 0x10, 0x11, 0x13, 0x15,
            0x1C, 0x1F,
        ];
        assert_eq!(items, expected);
        assert!(supported.contains(0x20));
        supported.add_mask(0xE0, [0x80, 0, 0, 1]);
        assert!(supported.contains(0xE1) && !supported.contains(0xE2));
        assert!(Supported::default().is_empty());
    }
}
