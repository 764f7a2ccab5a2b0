//! Names, units and words of what controllers report, whatever service brought it, and how a measure is written.

use std::str::FromStr;

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

/// The item whose name this is, as [`name`] gives it.
pub fn item_named(text: &str) -> Option<Item> {
    let part_of = |row: &table::Row| {
        let part = row.quantities.iter().position(|found| found.name == text)?;
        Some(Item::Current {
            pid: row.pid,
            part: u8::try_from(part).ok()?,
        })
    };
    let monitors = || {
        let pairs =
            (0..=u8::MAX).flat_map(|mid| (1..=monitor::LAST_NAMED_TEST).map(move |tid| (mid, tid)));
        let is_it = |(mid, tid): &(u8, u8)| monitor::name(*mid, *tid).as_deref() == Some(text);
        let (mid, tid) = pairs.into_iter().find(is_it)?;
        Some(Item::Monitor { mid, tid })
    };
    table::rows().find_map(part_of).or_else(monitors)
}

/// A quantity as a table's heading has it: `name (unit)`.
pub fn heading(item: Item) -> String {
    let name = name(item).unwrap_or_else(|| item.to_string());
    match unit(item).map_or("", |unit| unit.symbol()) {
        "" => name,
        unit => format!("{name} ({unit})"),
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

/// A percentage or a difference with its sign and one decimal; zero has no sign.
pub fn signed(number: f64) -> String {
    let text = format!("{number:+.1}");
    match text.as_str() {
        "-0.0" | "+0.0" => "0.0".to_owned(),
        text => minus(text),
    }
}

/// Numbers for people, with the sign for minus in place of the hyphen.
pub fn minus(text: &str) -> String {
    text.replace('-', "−")
}

/// The units in which measures are written for people. Files and machine-readable output are metric always.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Units {
    /// As the standards have them.
    #[default]
    Metric,
    /// psi, °F, mph, miles, lb ft.
    Us,
}

/// A word that names no system of units.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("expected metric or us")]
pub struct NoUnits;

impl FromStr for Units {
    type Err = NoUnits;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        match text {
            "metric" => Ok(Self::Metric),
            "us" => Ok(Self::Us),
            _ => Err(NoUnits),
        }
    }
}

impl Units {
    /// Number and unit as they are written, with at most two decimals and no superfluous ones.
    pub fn measure(self, value: f64, unit: Option<Unit>) -> String {
        let (value, symbol) = self.converted(value, unit.unwrap_or(Unit::None));
        let number = format!("{value:.2}");
        let number = match number.trim_end_matches('0').trim_end_matches('.') {
            "-0" => "0",
            number => number,
        };
        minus(&format!("{number} {symbol}")).trim_end().to_owned()
    }

    /// The exact factors of the international agreements (NIST SP 811, appendix B); those of psi and lb ft rounded there.
    fn converted(self, value: f64, unit: Unit) -> (f64, &'static str) {
        match (self, unit) {
            (Self::Us, Unit::DegreeCelsius) => (value * 1.8 + 32.0, "°F"),
            (Self::Us, Unit::Kilopascal) => (value / 6.894_757, "psi"),
            (Self::Us, Unit::KilometrePerHour) => (value / 1.609_344, "mph"),
            (Self::Us, Unit::Kilometre) => (value / 1.609_344, "mi"),
            (Self::Us, Unit::NewtonMetre) => (value / 1.355_818, "lb ft"),
            _ => (value, unit.symbol()),
        }
    }
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
    fn what_rounds_to_nothing_has_no_sign() {
        let written = [-0.04, 0.04, -0.06, 3.25, -12.71].map(signed);
        assert_eq!(written, ["0.0", "0.0", "−0.1", "+3.2", "−12.7"]);
    }

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

    /// By hand: 100 °C boil at 212 °F, one atmosphere of 101.325 kPa is 14.70 psi, a mile is 1.609344 km.
    #[test]
    fn measures_are_written_in_the_units_asked_for() {
        let us = |value, unit| Units::Us.measure(value, Some(unit));
        assert_eq!(us(100.0, Unit::DegreeCelsius), "212 °F");
        assert_eq!(us(101.325, Unit::Kilopascal), "14.7 psi");
        assert_eq!(us(160.9344, Unit::KilometrePerHour), "100 mph");
        assert_eq!(us(850.0, Unit::RevolutionPerMinute), "850 rpm");
        assert_eq!(
            Units::Metric.measure(0.781_25, Some(Unit::Percent)),
            "0.78 %"
        );
        assert_eq!(Units::Metric.measure(0.0, None), "0");
        assert_eq!(Units::Metric.measure(-0.001, None), "0");
        assert_eq!(us(-40.0, Unit::DegreeCelsius), "−40 °F");
        assert_eq!("us".parse(), Ok(Units::Us));
        assert_eq!("imperial".parse::<Units>(), Err(NoUnits));
    }
}
