//! Names, units and words of what controllers report, whatever service brought it.

use pintle_protocol::{
    Item, Pid, Unit, monitor,
    pid::{Quantity, table},
};

/// The item that a request in hex asks for: `0106` or `06A20C`; `None` for any other request.
pub fn item_of_request(request: &str) -> Option<Item> {
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

/// The quantity's name as the standard's tables give it; `None` for an unknown one.
pub fn name(item: Item) -> Option<String> {
    match item {
        Item::Current { .. } => quantity(item).map(|quantity| quantity.name.to_owned()),
        Item::Monitor { mid, tid } => monitor::name(mid, tid),
    }
}

/// The unit of the quantity's numbers; `None` for an unknown one, and for test values, whose unit comes with each answer.
pub fn unit(item: Item) -> Option<Unit> {
    quantity(item).map(|quantity| quantity.unit)
}

/// What a coded quantity's number stands for, in words; `None` for measured quantities.
pub fn text(item: Item, value: f64) -> Option<String> {
    quantity(item)?.text(value)
}

fn quantity(item: Item) -> Option<&'static Quantity> {
    match item {
        Item::Current { pid, part } => table::row(pid)?.quantities.get(usize::from(part)),
        Item::Monitor { .. } => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parameters_and_test_values_are_told_from_other_text() {
        assert_eq!(item_of_request("0106"), Some(Item::current(Pid(6))));
        assert_eq!(item_of_request("06a20C"), Some(Item::monitor(0xA2, 0x0C)));
        for text in ["", "01", "0206", "010607", "06A2", "01G6", "rpm", "é106"] {
            assert_eq!(item_of_request(text), None, "{text}");
        }
    }
}
