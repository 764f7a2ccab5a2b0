//! The diagnostic side of the car's controllers: their memory, and the bytes in which they report it.
//!
//! Encoded from the text of SAE J1979 / ISO 15031-5 and ISO 14229-1 on its own, apart from the program's decoding tables.

pub mod current_data;
pub mod information;
pub mod iso14229;
pub mod memory;
pub mod misfire_counters;
pub mod monitor_results;
pub mod trouble_codes;

/// The four mask bytes that tell which of the 32 items after `base` are supported (SAE J1979: first item is the top
/// bit; the last bit says that the next mask exists).
pub fn support_mask(base: u8, supported: impl Iterator<Item = u8>) -> [u8; 4] {
    let mut mask = 0_u32;
    for item in supported {
        if let Some(place @ 1..=32) = item.checked_sub(base) {
            mask |= 1 << (32 - u32::from(place));
        } else if item > base {
            mask |= 1;
        }
    }
    mask.to_be_bytes()
}

/// Whether `item` asks for a mask (00, 20, 40 … E0).
pub const fn is_mask(item: u8) -> bool {
    item.is_multiple_of(0x20)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// SAE J1979's form: bit 7 of the first byte is the item after the base; the last bit announces the next mask.
    #[test]
    fn masks_set_the_bit_of_each_item_and_announce_the_next_mask() {
        let items = [0x01, 0x03, 0x04, 0x0C, 0x2F];
        assert_eq!(support_mask(0, items.into_iter()), [0xB0, 0x10, 0x00, 0x01]);
        assert_eq!(
            support_mask(0x20, items.into_iter()),
            [0x00, 0x02, 0x00, 0x00]
        );
    }
}
