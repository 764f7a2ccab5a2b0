//! Names, units and words of what controllers report, whatever service brought it.

use pintle_protocol::{
    Item, Unit, monitor,
    pid::{Quantity, table},
};

/// The item that a request in hex asks for: `0106` or `06A20C`; `None` for any other request.
pub fn item_of_request(request: &str) -> Option<Item> {
    request.parse().ok()
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

    /// Trim scaling and coding of the fuel type by SAE J1979, Appendix B.
    #[test]
    fn a_request_leads_to_name_unit_and_words() {
        let trim = item_of_request("0106").unwrap();
        assert_eq!(name(trim).as_deref(), Some("short term fuel trim bank 1"));
        assert_eq!(unit(trim), Some(Unit::Percent));
        assert_eq!(text(trim, 3.125), None);
        let fuel = item_of_request("0151").unwrap();
        assert_eq!(text(fuel, 1.0).as_deref(), Some("petrol"));
        assert_eq!(item_of_request("0902"), None);
    }
}
