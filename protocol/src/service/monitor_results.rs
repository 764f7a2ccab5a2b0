//! Test values with their limits: service 06 on CAN, nine bytes each (SAE J1979 / ISO 15031-5), and
//! identifiers F6xx of service 22, where the monitor is named once and eight bytes follow for each
//! value (SAE J1979-2; from memory).

use super::identifier::{Kind, READ, READ_ANSWER};
use crate::{
    error::DecodeError,
    item::Item,
    monitor::scaling::{self, TestScaling},
};

/// Bytes of one record: monitor, test, scaling, value, lowest, highest.
const RECORD: usize = 9;

/// Bytes of one record behind an identifier of service 22: the same without the monitor.
const NEWER_RECORD: usize = 8;

/// Bytes of one result before CAN.
const OLDER_RECORD: usize = 6;

/// One test value with its limits, as sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MonitorResult {
    /// Monitor identifier.
    pub mid: u8,
    /// Test identifier.
    pub tid: u8,
    /// Unit-and-scaling identifier.
    pub scaling_id: u8,
    /// Test value.
    pub raw: u16,
    /// Lowest value that passes.
    pub raw_low: u16,
    /// Highest value that passes.
    pub raw_high: u16,
}

impl MonitorResult {
    const fn of(mid: u8, record: &[u8; NEWER_RECORD]) -> Self {
        let [tid, scaling_id, v1, v2, l1, l2, h1, h2] = *record;
        Self {
            mid,
            tid,
            scaling_id,
            raw: u16::from_be_bytes([v1, v2]),
            raw_low: u16::from_be_bytes([l1, l2]),
            raw_high: u16::from_be_bytes([h1, h2]),
        }
    }

    /// Whether the monitor has run: value and both limits zero mean that it has not.
    pub const fn has_run(&self) -> bool {
        self.raw != 0 || self.raw_low != 0 || self.raw_high != 0
    }

    /// How the value is scaled; `None` for an identifier that is not defined.
    pub fn scaling(&self) -> Option<&'static TestScaling> {
        scaling::of(self.scaling_id)
    }

    /// The test value; `None` when the monitor has not run or the scaling is not defined.
    pub fn value(&self) -> Option<f64> {
        let scaling = self.scaling().filter(|_| self.has_run())?;
        Some(scaling.value(self.raw))
    }

    /// Lowest and highest value that pass; `None` as for [`Self::value`].
    pub fn limits(&self) -> Option<(f64, f64)> {
        let scaling = self.scaling().filter(|_| self.has_run())?;
        Some((scaling.value(self.raw_low), scaling.value(self.raw_high)))
    }
}

/// The records of an answer to `06 mid` or `22 F6 mid`.
///
/// # Errors
/// When this is no answer to the request, or its bytes are not whole records of that monitor: a cut
/// answer, a support mask, or the form of the older buses, which has no scalings.
pub fn records<'a>(
    request: &[u8],
    response: &'a [u8],
) -> Result<impl Iterator<Item = MonitorResult> + use<'a>, DecodeError> {
    let (mid, skipped, bytes) = match request {
        [0x06, asked] => (*asked, 1, records_of_service_06(*asked, response)?),
        [READ, HIGH, asked] => (*asked, 0, records_of_identifier(*asked, response)?),
        _ => return Err(DecodeError::at(request, 0, "06 or 22 F6, and one monitor")),
    };
    let records = bytes.chunks_exact(skipped + NEWER_RECORD);
    Ok(records.filter_map(move |record| {
        let record = record.get(skipped..)?.first_chunk()?;
        Some(MonitorResult::of(mid, record))
    }))
}

/// What the identifiers of monitors begin with.
const HIGH: u8 = Kind::Monitor.high();

/// Whole records, each with its monitor.
fn records_of_service_06(asked: u8, response: &[u8]) -> Result<&[u8], DecodeError> {
    let Some(bytes) = response.strip_prefix(&[0x46]) else {
        return Err(DecodeError::at(response, 0, "46"));
    };
    let (records, odd) = bytes.as_chunks::<RECORD>();
    if let Some(at) = records
        .iter()
        .position(|record| !record.starts_with(&[asked]))
    {
        let expected = format!("monitor {asked:02X}");
        return Err(DecodeError::at(response, 1 + at * RECORD, expected));
    }
    if !odd.is_empty() || records.is_empty() || is_older_form(asked, bytes) {
        let expected = "whole records of nine bytes";
        return Err(DecodeError::at(response, response.len(), expected));
    }
    Ok(bytes)
}

/// Whole records behind the identifier.
fn records_of_identifier(asked: u8, response: &[u8]) -> Result<&[u8], DecodeError> {
    let Some(bytes) = response.strip_prefix(&[READ_ANSWER, HIGH, asked]) else {
        let expected = format!("62 F6 {asked:02X}");
        return Err(DecodeError::at(response, 0, expected));
    };
    // a controller that repeats the monitor in each of eight records would be misread
    let (repeating, odd) = bytes.as_chunks::<RECORD>();
    let repeats = odd.is_empty() && repeating.iter().all(|record| record.starts_with(&[asked]));
    if bytes.is_empty() || !bytes.len().is_multiple_of(NEWER_RECORD) || repeats {
        let expected = "whole records of eight bytes";
        return Err(DecodeError::at(response, response.len(), expected));
    }
    Ok(bytes)
}

/// Whether the bytes after the answer byte are test results of the buses before CAN: test, limit
/// and component, value, limit, six bytes each, without scalings.
pub(super) fn is_older_form(asked: u8, bytes: &[u8]) -> bool {
    let (records, odd) = bytes.as_chunks::<OLDER_RECORD>();
    let all_asked = records.iter().all(|record| record.starts_with(&[asked]));
    odd.is_empty() && !records.is_empty() && all_asked
}

/// Hands every test value of an answer of service 06 or 22 to `take`; monitors that have not run give none.
///
/// # Errors
/// As [`records`].
pub fn for_each_number(
    request: &[u8],
    response: &[u8],
    mut take: impl FnMut(Item, f64),
) -> Result<(), DecodeError> {
    for record in records(request, response)? {
        if let Some(value) = record.value() {
            take(Item::monitor(record.mid, record.tid), value);
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn misfire_counters_are_read_and_what_has_not_run_is_not_zero() {
        let response = [
            0x46, 0xA2, 0x0B, 0x24, 0, 5, 0, 0, 0xFF, 0xFF, //
            0xA2, 0x0C, 0x24, 0, 0, 0, 0, 0, 0,
        ];
        let mut found = Vec::new();
        for_each_number(&[6, 0xA2], &response, |item, value| {
            found.push((item, value))
        })
        .unwrap();
        assert_eq!(found, [(Item::monitor(0xA2, 0x0B), 5.0)]);
        let first = records(&[6, 0xA2], &response).unwrap().next().unwrap();
        assert_eq!(first.limits(), Some((0.0, 65_535.0)));
    }

    #[test]
    fn a_count_of_zero_with_limits_is_a_count_of_zero() {
        let response = [0x46, 0xA2, 0x0C, 0x24, 0, 0, 0, 0, 0xFF, 0xFF];
        let mut found = Vec::new();
        for_each_number(&[6, 0xA2], &response, |_, value| found.push(value)).unwrap();
        assert_eq!(found, [0.0]);
    }

    /// Misfire counters behind the identifier F6A2 (SAE J1979-2, from memory).
    #[test]
    fn an_identifier_brings_the_same_test_values() {
        let request = [0x22, 0xF6, 0xA2];
        let response = [
            0x62, 0xF6, 0xA2, 0x0B, 0x24, 0, 5, 0, 0, 0xFF, 0xFF, //
            0x0C, 0x24, 1, 0x2C, 0, 0, 0xFF, 0xFF,
        ];
        let mut found = Vec::new();
        for_each_number(&request, &response, |item, value| found.push((item, value))).unwrap();
        assert_eq!(
            found,
            [
                (Item::monitor(0xA2, 0x0B), 5.0),
                (Item::monitor(0xA2, 0x0C), 300.0)
            ]
        );
        assert!(records(&request, &response[..12]).is_err());
        assert!(records(&request, &response[..3]).is_err());
        assert!(records(&[0x22, 0xF6, 0xA3], &response).is_err());
        assert!(records(&[0x22, 0xF6, 0xA0], &[0x62, 0xF6, 0xA0, 0x7C, 0, 0, 0]).is_err());
        // Records that repeat the monitor are of another form, however many there are.
        let repeating = [0xA2, 0x0C, 0x24, 0, 5, 0, 0, 0xFF, 0xFF];
        for count in [1, 2, 8] {
            let bytes = [&[0x62, 0xF6, 0xA2], &repeating.repeat(count)[..]].concat();
            assert!(records(&request, &bytes).is_err(), "{count}");
        }
    }

    #[test]
    fn cut_records_and_other_monitors_are_refused() {
        assert!(records(&[6, 0xA2], &[0x46, 0xA2, 0x0C, 0x24, 0]).is_err());
        assert!(records(&[6, 0xA2], &[0x46, 0xA3, 0x0C, 0x24, 0, 0, 0, 0, 0, 0]).is_err());
        assert!(records(&[6, 0xA2], &[0x41, 0xA2]).is_err());
        // A support mask, and the six-byte form of the older buses, one and three results.
        assert!(records(&[6, 0xA0], &[0x46, 0xA0, 0x7C, 0, 0, 0]).is_err());
        let older = [0xA2, 0x0C, 0, 5, 0xFF, 0xFF];
        assert!(records(&[6, 0xA2], &[&[0x46], &older[..]].concat()).is_err());
        assert!(records(&[6, 0xA2], &[&[0x46], &older.repeat(3)[..]].concat()).is_err());
        // Two of three records are of the monitor asked for.
        let record = [0xA2, 0x0C, 0x24, 0, 5, 0, 0, 0xFF, 0xFF];
        let mut bytes = [&[0x46], &record.repeat(3)[..]].concat();
        bytes[19] = 0xA3;
        let error = records(&[6, 0xA2], &bytes).err().unwrap();
        assert_eq!(
            error.to_string(),
            "at byte 19: expected monitor A2, found byte A3"
        );
    }
}
