//! What the third byte of a code says on newer cars: the kind of failure (SAE J2012-DA, failure type
//! bytes; from memory, in our own words).

/// Failure types that are the same for every maker, in order. 00 says no more than the code.
const MEANINGS: [(u8, &str); 47] = [
    (0x01, "electrical failure"),
    (0x02, "signal failure"),
    (0x04, "failure inside the controller"),
    (0x05, "programming failure"),
    (0x06, "failure found by calculation"),
    (0x07, "mechanical failure"),
    (0x08, "message failure on a bus"),
    (0x09, "component failure"),
    (0x11, "short to ground"),
    (0x12, "short to battery"),
    (0x13, "circuit open"),
    (0x14, "short to ground or circuit open"),
    (0x15, "short to battery or circuit open"),
    (0x16, "voltage too low"),
    (0x17, "voltage too high"),
    (0x18, "current too low"),
    (0x19, "current too high"),
    (0x1A, "resistance too low"),
    (0x1B, "resistance too high"),
    (0x1C, "voltage out of range"),
    (0x1D, "current out of range"),
    (0x1E, "resistance out of range"),
    (0x1F, "comes and goes"),
    (0x21, "signal too small"),
    (0x22, "signal too large"),
    (0x23, "signal stuck low"),
    (0x24, "signal stuck high"),
    (0x25, "wrong shape of the signal"),
    (0x26, "signal changes too slowly"),
    (0x27, "signal changes too fast"),
    (0x28, "zero point of the signal out of range"),
    (0x29, "signal not valid"),
    (0x2A, "signal stuck in range"),
    (0x2F, "signal erratic"),
    (0x31, "no signal"),
    (0x62, "signals contradict each other"),
    (0x64, "signal not plausible"),
    (0x71, "actuator stuck"),
    (0x72, "actuator stuck open"),
    (0x73, "actuator stuck closed"),
    (0x77, "commanded position not reached"),
    (0x7A, "leak"),
    (0x7B, "fluid level too low"),
    (0x81, "data received are not valid"),
    (0x87, "message missing"),
    (0x92, "performance or wrong operation"),
    (0x98, "too hot"),
];

/// What a failure type says, in words; `None` for 00 and for one that is not listed here.
pub fn meaning(failure_type: u8) -> Option<&'static str> {
    let at = MEANINGS.binary_search_by_key(&failure_type, |(known, _)| *known);
    MEANINGS.get(at.ok()?).map(|(_, words)| *words)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 11, 12 and 13 are the electrician's three; 00 adds nothing (SAE J2012-DA, from memory).
    #[test]
    fn failure_types_are_found_in_a_sorted_list() {
        assert!(MEANINGS.is_sorted_by(|a, b| a.0 < b.0));
        for (failure_type, words) in [
            (0x11, "short to ground"),
            (0x12, "short to battery"),
            (0x13, "circuit open"),
            (0x64, "signal not plausible"),
        ] {
            assert_eq!(meaning(failure_type), Some(words));
        }
        assert_eq!(meaning(0x00), None);
        assert_eq!(meaning(0xF0), None);
    }
}
