//! Why a controller refuses a request (response codes of ISO 14229-1 / ISO 14230-3 that SAE J1979
//! uses, in our own words).

/// Known response codes, in order.
const MEANINGS: [(u8, &str); 16] = [
    (0x10, "refused without a reason"),
    (0x11, "service not supported"),
    (0x12, "item not supported or request malformed"),
    (0x13, "request of the wrong length"),
    (0x14, "answer too long"),
    (0x21, "busy, ask again"),
    (0x22, "conditions not right now"),
    (0x24, "requests in the wrong order"),
    (0x31, "item out of range"),
    (0x33, "locked"),
    (0x35, "wrong key"),
    (0x36, "too many attempts"),
    (0x37, "wait before the next attempt"),
    (0x78, "answer follows later"),
    (0x7E, "item not supported in this session"),
    (0x7F, "service not supported in this session"),
];

/// What a response code says, in words; `None` for one that is not listed here.
pub fn meaning(code: u8) -> Option<&'static str> {
    let at = MEANINGS.binary_search_by_key(&code, |(known, _)| *known);
    MEANINGS.get(at.ok()?).map(|(_, words)| *words)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Codes of ISO 14229-1 (from memory).
    #[test]
    fn codes_are_found_in_a_sorted_list() {
        assert!(MEANINGS.is_sorted_by(|a, b| a.0 < b.0));
        assert_eq!(meaning(0x11), Some("service not supported"));
        assert_eq!(meaning(0x78), Some("answer follows later"));
        assert_eq!(meaning(0x00), None);
    }
}
