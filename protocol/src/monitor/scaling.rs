//! Unit-and-scaling identifiers of service 06 in CAN format (SAE J1979, Appendix E, from memory).
//!
//! 01 to 7F stand for unsigned 16-bit numbers, 81 to FE for two's complement.

/// How a 16-bit test value becomes a number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TestScaling {
    /// Unit-and-scaling identifier.
    pub id: u8,
    /// Value of one count.
    pub factor: f64,
    /// Value at raw 0.
    pub offset: f64,
    /// The unit's symbol, empty for a pure number.
    pub unit: &'static str,
}

const fn one(id: u8, factor: f64, unit: &'static str) -> TestScaling {
    TestScaling {
        id,
        factor,
        offset: 0.0,
        unit,
    }
}

/// Every identifier that is defined, in order.
pub const TABLE: &[TestScaling] = &[
    one(0x01, 1.0, ""),
    one(0x02, 0.1, ""),
    one(0x03, 0.01, ""),
    one(0x04, 0.001, ""),
    one(0x05, 1.0 / 32_768.0, ""),
    one(0x06, 0.01 / 32.768, ""),
    one(0x07, 0.25, "rpm"),
    one(0x08, 0.01, "km/h"),
    one(0x09, 1.0, "km/h"),
    one(0x0A, 0.122, "mV"),
    one(0x0B, 1.0, "mV"),
    one(0x0C, 10.0, "mV"),
    one(0x0D, 1.0 / 256.0, "mA"),
    one(0x0E, 1.0, "mA"),
    one(0x0F, 10.0, "mA"),
    one(0x10, 1.0, "ms"),
    one(0x11, 100.0, "ms"),
    one(0x12, 1.0, "s"),
    one(0x13, 1.0, "mΩ"),
    one(0x14, 1.0, "Ω"),
    one(0x15, 1.0, "kΩ"),
    TestScaling {
        id: 0x16,
        factor: 0.1,
        offset: -40.0,
        unit: "°C",
    },
    one(0x17, 0.01, "kPa"),
    one(0x18, 0.0117, "kPa"),
    one(0x19, 0.079, "kPa"),
    one(0x1A, 1.0, "kPa"),
    one(0x1B, 10.0, "kPa"),
    one(0x1C, 0.01, "°"),
    one(0x1D, 0.5, "°"),
    one(0x1E, 1.0 / 32_768.0, "lambda"),
    one(0x1F, 0.05, "air-fuel ratio"),
    one(0x20, 1.0 / 256.0, ""),
    one(0x21, 1.0, "mHz"),
    one(0x22, 1.0, "Hz"),
    one(0x23, 1.0, "kHz"),
    one(0x24, 1.0, "counts"),
    one(0x25, 1.0, "km"),
    one(0x26, 0.1, "mV/ms"),
    one(0x27, 0.01, "g/s"),
    one(0x28, 1.0, "g/s"),
    one(0x29, 0.25, "Pa/s"),
    one(0x2A, 0.001, "kg/h"),
    one(0x2B, 1.0, "switches"),
    one(0x2C, 0.01, "g/cylinder"),
    one(0x2D, 0.01, "mg/stroke"),
    one(0x2E, 1.0, "true or false"),
    one(0x2F, 0.01, "%"),
    one(0x30, 100.0 / 65_536.0, "%"),
    one(0x31, 0.001, "L"),
    one(0x32, 1.0 / 32_768.0, "in"),
    one(0x33, 1.0 / 4096.0, "lambda"),
    one(0x34, 1.0, "min"),
    one(0x35, 10.0, "ms"),
    one(0x36, 0.01, "g"),
    one(0x37, 0.1, "g"),
    one(0x38, 1.0, "g"),
    TestScaling {
        id: 0x39,
        factor: 0.01,
        offset: -327.68,
        unit: "%",
    },
    one(0x81, 1.0, ""),
    one(0x82, 0.1, ""),
    one(0x83, 0.01, ""),
    one(0x84, 0.001, ""),
    one(0x85, 1.0 / 32_768.0, ""),
    one(0x86, 0.01 / 32.768, ""),
    one(0x8A, 0.122, "mV"),
    one(0x8B, 1.0, "mV"),
    one(0x8C, 10.0, "mV"),
    one(0x8D, 1.0 / 256.0, "mA"),
    one(0x8E, 1.0, "mA"),
    one(0x90, 1.0, "ms"),
    one(0x96, 0.1, "°C"),
    one(0x99, 0.1, "kPa"),
    one(0x9C, 0.01, "°"),
    one(0x9D, 0.5, "°"),
    one(0xA8, 1.0, "g/s"),
    one(0xA9, 0.25, "Pa/s"),
    one(0xAD, 0.01, "mg/stroke"),
    one(0xAE, 0.1, "mg/stroke"),
    one(0xAF, 0.01, "%"),
    one(0xB0, 100.0 / 32_768.0, "%"),
    one(0xB1, 2.0, "mV/s"),
    one(0xFC, 0.01, "kPa"),
    one(0xFD, 0.001, "kPa"),
    one(0xFE, 0.25, "Pa"),
];

/// The scaling of an identifier; `None` when it is not defined.
pub fn of(id: u8) -> Option<&'static TestScaling> {
    let at = TABLE.binary_search_by_key(&id, |scaling| scaling.id).ok()?;
    TABLE.get(at)
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
