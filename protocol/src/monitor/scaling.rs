//! Unit-and-scaling identifiers of service 06 in CAN format (SAE J1979, Appendix E, from memory).
//!
//! 01 to 7F stand for unsigned 16-bit numbers, 81 to FE for two's complement. Identifiers that are
//! not here are reserved or not known for sure; their values stay raw.

use crate::unit::Unit::{
    self, Count, Degree, DegreeCelsius, Gram, GramPerCylinder, GramPerSecond, Hertz, Inch,
    KilogramPerHour, Kilohertz, Kilometre, KilometrePerHour, Kiloohm, Kilopascal, Litre,
    Microampere, Microsecond, Milliampere, MilligramPerStroke, Millihertz, Milliohm, Millisecond,
    Millivolt, MillivoltPerMillisecond, MillivoltPerSecond, Minute, None, Ohm, PartPerMillion,
    Pascal, PascalPerSecond, Percent, RevolutionPerMinute, Second,
};

/// How a 16-bit test value becomes a number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TestScaling {
    /// Unit-and-scaling identifier.
    pub id: u8,
    /// Value of one count.
    pub factor: f64,
    /// Value at raw 0.
    pub offset: f64,
    /// Unit of the value. Ratios (1E and 33: lambda; 1F: air to fuel by mass), raw numbers and
    /// true-or-false (2E) have none.
    pub unit: Unit,
}

const fn one(id: u8, factor: f64, unit: Unit) -> TestScaling {
    offset(id, factor, 0.0, unit)
}

const fn offset(id: u8, factor: f64, offset: f64, unit: Unit) -> TestScaling {
    TestScaling {
        id,
        factor,
        offset,
        unit,
    }
}

/// Every identifier that is known, in order.
pub const TABLE: &[TestScaling] = &[
    one(0x01, 1.0, None),
    one(0x02, 0.1, None),
    one(0x03, 0.01, None),
    one(0x04, 0.001, None),
    one(0x05, 1.0 / 32_768.0, None),
    one(0x06, 10.0 / 32_768.0, None),
    one(0x07, 0.25, RevolutionPerMinute),
    one(0x08, 0.01, KilometrePerHour),
    one(0x09, 1.0, KilometrePerHour),
    one(0x0A, 0.122, Millivolt),
    one(0x0B, 1.0, Millivolt),
    one(0x0C, 10.0, Millivolt),
    one(0x0D, 1.0 / 256.0, Milliampere),
    one(0x0E, 1.0, Milliampere),
    one(0x0F, 10.0, Milliampere),
    one(0x10, 1.0, Millisecond),
    one(0x11, 100.0, Millisecond),
    one(0x12, 1.0, Second),
    one(0x13, 1.0, Milliohm),
    one(0x14, 1.0, Ohm),
    one(0x15, 1.0, Kiloohm),
    offset(0x16, 0.1, -40.0, DegreeCelsius),
    one(0x17, 0.01, Kilopascal),
    one(0x18, 0.0117, Kilopascal),
    one(0x19, 0.079, Kilopascal),
    one(0x1A, 1.0, Kilopascal),
    one(0x1B, 10.0, Kilopascal),
    one(0x1C, 0.01, Degree),
    one(0x1D, 0.5, Degree),
    one(0x1E, 1.0 / 32_768.0, None),
    one(0x1F, 0.05, None),
    one(0x20, 1.0 / 256.0, None),
    one(0x21, 1.0, Millihertz),
    one(0x22, 1.0, Hertz),
    one(0x23, 1.0, Kilohertz),
    one(0x24, 1.0, Count),
    one(0x25, 1.0, Kilometre),
    one(0x26, 0.1, MillivoltPerMillisecond),
    one(0x27, 0.01, GramPerSecond),
    one(0x28, 1.0, GramPerSecond),
    one(0x29, 0.25, PascalPerSecond),
    one(0x2A, 0.001, KilogramPerHour),
    one(0x2B, 1.0, Count),
    one(0x2C, 0.01, GramPerCylinder),
    one(0x2D, 0.01, MilligramPerStroke),
    one(0x2E, 1.0, None),
    one(0x2F, 0.01, Percent),
    one(0x30, 100.0 / 65_536.0, Percent),
    one(0x31, 0.001, Litre),
    one(0x32, 1.0 / 32_768.0, Inch),
    one(0x33, 1.0 / 4096.0, None),
    one(0x34, 1.0, Minute),
    one(0x35, 10.0, Millisecond),
    one(0x36, 0.01, Gram),
    one(0x37, 0.1, Gram),
    one(0x38, 1.0, Gram),
    offset(0x39, 0.01, -327.68, Percent),
    one(0x3A, 0.001, Gram),
    one(0x3B, 0.0001, Gram),
    one(0x3C, 0.1, Microsecond),
    one(0x3D, 0.01, Milliampere),
    one(0x3F, 0.01, Litre),
    one(0x40, 1.0, PartPerMillion),
    one(0x41, 0.01, Microampere),
    one(0x81, 1.0, None),
    one(0x82, 0.1, None),
    one(0x83, 0.01, None),
    one(0x84, 0.001, None),
    one(0x85, 1.0 / 32_768.0, None),
    one(0x86, 10.0 / 32_768.0, None),
    one(0x87, 1.0, PartPerMillion),
    one(0x8A, 0.122, Millivolt),
    one(0x8B, 1.0, Millivolt),
    one(0x8C, 10.0, Millivolt),
    one(0x8D, 1.0 / 256.0, Milliampere),
    one(0x8E, 1.0, Milliampere),
    one(0x90, 1.0, Millisecond),
    one(0x96, 0.1, DegreeCelsius),
    one(0x99, 0.1, Kilopascal),
    one(0x9C, 0.01, Degree),
    one(0x9D, 0.5, Degree),
    one(0xA8, 1.0, GramPerSecond),
    one(0xA9, 0.25, PascalPerSecond),
    one(0xAD, 0.01, MilligramPerStroke),
    one(0xAE, 0.1, MilligramPerStroke),
    one(0xAF, 0.01, Percent),
    one(0xB0, 100.0 / 32_768.0, Percent),
    one(0xB1, 2.0, MillivoltPerSecond),
    one(0xFC, 0.01, Kilopascal),
    one(0xFD, 0.001, Kilopascal),
    one(0xFE, 0.25, Pascal),
];

/// The scaling of an identifier; `None` when it is not defined.
pub fn of(id: u8) -> Option<&'static TestScaling> {
    let at = TABLE.binary_search_by_key(&id, |scaling| scaling.id);
    TABLE.get(at.ok()?)
}

/// No test value lies further from 0 than this, whatever its scaling.
pub fn largest_test_value() -> f64 {
    let furthest = |scaling: &TestScaling| {
        let at = |raw| scaling.value(raw).abs();
        at(0).max(at(0x7FFF)).max(at(0x8000)).max(at(u16::MAX))
    };
    TABLE.iter().map(furthest).fold(0.0, f64::max)
}

impl TestScaling {
    /// The number that 16 bits stand for.
    pub fn value(&self, raw: u16) -> f64 {
        let number = match self.id {
            0x80.. => f64::from(raw as i16),
            _ => f64::from(raw),
        };
        number * self.factor + self.offset
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_is_in_order_so_that_it_can_be_searched() {
        assert!(TABLE.is_sorted_by(|a, b| a.id < b.id));
    }

    /// Ends of ranges as printed in SAE J1979, Appendix E (from memory).
    #[test]
    fn ends_of_ranges_are_as_published() {
        for (id, raw, expected) in [
            (0x01, 0xFFFF, 65_535.0),
            (0x05, 0xFFFF, 1.999_97),
            (0x07, 0xFFFF, 16_383.75),
            (0x0A, 0xFFFF, 7_995.27),
            (0x16, 0x0000, -40.0),
            (0x16, 0xFFFF, 6_513.5),
            (0x24, 0xFFFF, 65_535.0),
            (0x39, 0x8000, 0.0),
            (0x81, 0x8000, -32_768.0),
            (0x81, 0xFFFF, -1.0),
            (0x96, 0x8000, -3_276.8),
            (0x06, 0xFFFF, 19.999_7),
            (0x0D, 0xFFFF, 255.996),
            (0x18, 0xFFFF, 766.76),
            (0x19, 0xFFFF, 5_177.265),
            (0x1F, 0xFFFF, 3_276.75),
            (0x20, 0xFFFF, 255.996),
            (0x30, 0xFFFF, 99.998),
            (0x33, 0xFFFF, 15.999_8),
            (0x9C, 0x8000, -327.68),
            (0xB0, 0x7FFF, 99.997),
            (0xFE, 0x8000, -8_192.0),
        ] {
            let found = of(id).unwrap().value(raw);
            assert!(
                (found - expected).abs() < 0.005,
                "{id:02X}: {found} for {expected}"
            );
        }
        assert!(of(0x7F).is_none() && of(0x80).is_none());
    }
}
