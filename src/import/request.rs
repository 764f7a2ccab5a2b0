//! What a column may stand for: a service 01 parameter or a service 06 test value, by its request in hex.

use pintle_protocol::{Item, Pid};

/// Reads `0106` or `06A20C`; `None` for anything else.
pub(super) fn item_of(request: &str) -> Option<Item> {
    if !request.bytes().all(|byte| byte.is_ascii_hexdigit()) {
        return None;
    }
    let byte = |at: usize| u8::from_str_radix(request.get(at..at + 2)?, 16).ok();
    match (request.len(), byte(0)?) {
        (4, 0x01) => Some(Item::current(Pid(byte(2)?))),
        (6, 0x06) => Some(Item::monitor(byte(2)?, byte(4)?)),
        _ => None,
    }
}

pub(super) fn own_unit(item: Item) -> Option<pintle_protocol::Unit> {
    use pintle_protocol::Unit;
    Some(match item.to_string().as_str() {
        "0105" | "010F" => Unit::DegreeCelsius,
        "010C" => Unit::RevolutionPerMinute,
        "010D" => Unit::KilometrePerHour,
        "010B" | "0133" => Unit::Kilopascal,
        _ => return None,
    })
}

pub(super) fn name_of(_item: Item) -> Option<String> {
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parameters_and_test_values_are_told_from_other_text() {
        assert_eq!(item_of("0106"), Some(Item::current(Pid(6))));
        assert_eq!(item_of("06a20C"), Some(Item::monitor(0xA2, 0x0C)));
        for text in ["", "01", "0206", "010607", "06A2", "01G6", "rpm", "é106"] {
            assert_eq!(item_of(text), None, "{text}");
        }
    }
}
