//! Support masks: parameters 00, 20, … of a service say in 32 bits which of the next 32 are there
//! (SAE J1979, 6.1).

/// Whether this identifier is a support mask (00, 20, … E0) instead of a parameter.
pub const fn is_mask(identifier: u8) -> bool {
    identifier.is_multiple_of(0x20)
}

/// The identifiers that a mask of four bytes, answered to `base` (00, 20, …), says are supported.
/// Works alike for the PIDs of service 01, the MIDs of service 06 and the information types of
/// service 09.
pub fn supported(base: u8, mask: [u8; 4]) -> impl Iterator<Item = u8> {
    let bits = u32::from_be_bytes(mask);
    (1..=32_u8)
        .filter(move |n| bits >> (32 - n) & 1 == 1)
        .filter_map(move |n| base.checked_add(n))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_widely_printed_example_mask_reads_as_printed() {
        // BE 1F A8 13, from memory of the public example that accompanies the definition of PID 00.
        let pids: Vec<u8> = supported(0, [0xBE, 0x1F, 0xA8, 0x13]).collect();
        let expected = [
            0x01, 0x03, 0x04, 0x05, 0x06, 0x07, 0x0C, 0x0D, 0x0E, 0x0F, 0x10, 0x11, 0x13, 0x15,
            0x1C, 0x1F, 0x20,
        ];
        assert_eq!(pids, expected);
    }

    #[test]
    fn the_last_mask_does_not_run_over() {
        assert_eq!(supported(0xE0, [0xFF; 4]).last(), Some(0xFF));
    }
}
