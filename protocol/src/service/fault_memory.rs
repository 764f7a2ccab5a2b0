//! Service 19: codes with their status, and what was noted down when one was stored (ISO 14229-1, as
//! SAE J1979-2 uses it; from memory).

use std::fmt;

use super::{
    code_list::CodeList,
    identifier::Kind,
    request::{BY_MASK, BY_STATUS, CONFIRMED, PENDING, PERMANENT, SNAPSHOTS},
};
use crate::{
    dtc::TroubleCode,
    error::DecodeError,
    pid::{Pid, table},
};

/// Formats in which the first two bytes of a code are those of SAE J2012: with and without a
/// maker's failure type.
const SAE_FORMATS: [u8; 2] = [0x00, 0x04];

/// So many ways to split snapshots are tried before they are called unreadable.
const MOST_STEPS: u32 = 10_000;

/// A code as a controller tells it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct ReportedCode {
    /// The code.
    pub code: TroubleCode,
    /// Third byte: what kind of failure it is (SAE J2012-DA); 00 says no more than the code. `None`
    /// from services 03, 07 and 0A, whose codes have two bytes.
    pub failure_type: Option<u8>,
    /// Status bits (ISO 14229-1, D.2); `None` from services 03, 07 and 0A.
    pub status: Option<u8>,
}

impl ReportedCode {
    /// From the three bytes as sent; `None` for zeros, which fill unused places.
    fn of(bytes: [u8; 3], status: u8) -> Option<Self> {
        let [high, low, failure_type] = bytes;
        Some(Self {
            code: TroubleCode::from_bytes([high, low])?,
            failure_type: Some(failure_type),
            status: Some(status),
        })
    }

    /// The three bytes by which service 19 asks for more about it.
    pub const fn bytes(self) -> [u8; 3] {
        let [high, low] = self.code.0.to_be_bytes();
        let failure_type = match self.failure_type {
            Some(failure_type) => failure_type,
            None => 0,
        };
        [high, low, failure_type]
    }
}

impl From<TroubleCode> for ReportedCode {
    fn from(code: TroubleCode) -> Self {
        Self {
            code,
            failure_type: None,
            status: None,
        }
    }
}

impl fmt::Display for ReportedCode {
    /// `P0303`, and with a failure type that says more than the code `P0303-11`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.code.fmt(f)?;
        match self.failure_type {
            None | Some(0) => Ok(()),
            Some(failure_type) => write!(f, "-{failure_type:02X}"),
        }
    }
}

/// Values as they were at one moment of a code's life.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Snapshot {
    /// Number of the record.
    pub record: u8,
    /// Parameters and their data bytes.
    pub values: Vec<(Pid, Vec<u8>)>,
}

/// The codes of an answer and the list that was asked for; `None` for a request that asks for
/// several lists at once, for a format that is not of SAE J2012, and for other subfunctions.
///
/// # Errors
/// When the answer is not one to this request, is no whole records, or holds a code with a status
/// that was not asked for.
pub(super) fn codes(
    request: &[u8],
    response: &[u8],
) -> Result<Option<(CodeList, Vec<ReportedCode>)>, DecodeError> {
    let (list, mask, head) = match (request, response) {
        ([_, BY_MASK, group, mask, _], [_, BY_MASK, told, _, _, format, ..]) if group == told => {
            (list_of(*mask, *format), *mask, 6)
        }
        ([_, PERMANENT, group], [_, PERMANENT, told, _, format, ..]) if group == told => {
            let known = SAE_FORMATS.contains(format);
            (known.then_some(CodeList::Permanent), 0xFF, 5)
        }
        ([_, BY_STATUS, mask], [_, BY_STATUS, _, ..]) => (list_of(*mask, 0), *mask, 3),
        ([_, BY_MASK | PERMANENT | BY_STATUS, ..], _) => {
            return Err(DecodeError::at(response, 1, "the codes asked for"));
        }
        _ => return Ok(None),
    };
    let Some(list) = list else {
        return Ok(None);
    };
    let severity = usize::from(request.get(1) == Some(&BY_MASK));
    let records = response.get(head..).unwrap_or_default();
    let mut found = Vec::new();
    let records = records.chunks(severity + 4).zip(0..);
    for (record, place) in records {
        let Some(&[a, b, c, status]) = record.get(severity..) else {
            let expected = "whole records of a code and its status";
            return Err(DecodeError::at(response, response.len(), expected));
        };
        if status & mask == 0 && mask != 0xFF {
            let at = head + place * (severity + 4) + severity + 3;
            return Err(DecodeError::at(response, at, "a status asked for"));
        }
        found.extend(ReportedCode::of([a, b, c], status));
    }
    Ok(Some((list, found)))
}

/// The list that a status mask alone asks for.
fn list_of(mask: u8, format: u8) -> Option<CodeList> {
    match mask {
        _ if !SAE_FORMATS.contains(&format) => None,
        CONFIRMED => Some(CodeList::Stored),
        PENDING => Some(CodeList::Pending),
        _ => None,
    }
}

/// The snapshots of one code; `None` when they hold something whose length is not known here, or
/// their bytes can be read in more than one way.
///
/// # Errors
/// When the answer is not about the code asked for.
pub(super) fn snapshots(
    request: &[u8],
    response: &[u8],
) -> Result<Option<(ReportedCode, Vec<Snapshot>)>, DecodeError> {
    let ([_, SNAPSHOTS, asked @ .., _], [_, SNAPSHOTS, a, b, c, status, records @ ..]) =
        (request, response)
    else {
        return Err(DecodeError::at(response, 1, "snapshots of a code"));
    };
    if asked != [*a, *b, *c] {
        return Err(DecodeError::at(response, 2, "the code asked for"));
    }
    let Some(code) = ReportedCode::of([*a, *b, *c], *status) else {
        return Ok(None);
    };
    let mut walk = Walk {
        bytes: records,
        path: Vec::new(),
        found: Vec::new(),
        ways: 0,
        steps: 0,
    };
    walk.go_on(0, 0, 0);
    let readable = walk.ways == 1 && walk.steps < MOST_STEPS;
    Ok(readable.then(|| (code, walk.snapshots())))
}

/// A walk through all the ways to split snapshot records: number, count of identifiers, then
/// identifier and data for each. Lengths are those of the parameters' table.
struct Walk<'a> {
    bytes: &'a [u8],
    path: Vec<Value>,
    found: Vec<Value>,
    ways: u8,
    steps: u32,
}

/// A parameter of a record and where its data stand.
#[derive(Debug, Clone, Copy)]
struct Value {
    record: u8,
    pid: u8,
    from: usize,
    to: usize,
}

impl Walk<'_> {
    fn go_on(&mut self, at: usize, record: u8, left: u8) {
        self.steps += 1;
        if self.ways > 1 || self.steps >= MOST_STEPS {
            return;
        }
        match (left, self.bytes.get(at..).unwrap_or_default()) {
            (0, []) => {
                self.ways += 1;
                self.found.clone_from(&self.path);
            }
            (0, [record, count, ..]) if *count > 0 => self.go_on(at + 2, *record, *count),
            (1.., [HIGH, pid, ..]) => self.take(at + 2, record, *pid, left - 1),
            _ => {}
        }
    }

    fn take(&mut self, from: usize, record: u8, pid: u8, left: u8) {
        let twice = |value: &Value| (value.record, value.pid) == (record, pid);
        let Some(row) = table::row(Pid(pid)) else {
            return;
        };
        if self.path.iter().any(twice) {
            return;
        }
        for length in row.lengths {
            let to = from + usize::from(*length);
            if to <= self.bytes.len() {
                self.path.push(Value {
                    record,
                    pid,
                    from,
                    to,
                });
                self.go_on(to, record, left);
                self.path.pop();
            }
        }
    }

    fn snapshots(&self) -> Vec<Snapshot> {
        let mut snapshots: Vec<Snapshot> = Vec::new();
        for value in &self.found {
            let data = self.bytes.get(value.from..value.to).unwrap_or_default();
            let value_of = (Pid(value.pid), data.to_vec());
            match snapshots.last_mut() {
                Some(last) if last.record == value.record => last.values.push(value_of),
                _ => snapshots.push(Snapshot {
                    record: value.record,
                    values: vec![value_of],
                }),
            }
        }
        snapshots
    }
}

/// What the identifiers of parameters begin with.
const HIGH: u8 = Kind::Current.high();

#[cfg(test)]
mod tests {
    use super::*;

    /// Request for the confirmed emissions-related codes of every class (ISO 14229-1, service 19).
    const STORED: [u8; 5] = [0x19, 0x42, 0x33, 0x08, 0x1E];

    fn text(request: &[u8], response: &[u8]) -> Option<(CodeList, Vec<String>)> {
        let (list, codes) = codes(request, response).ok()??;
        Some((list, codes.iter().map(ToString::to_string).collect()))
    }

    /// By ISO 14229-1: group, masks of status and severity that there are, format 04, then severity,
    /// code and status of each. Status AF: failed, confirmed, pending, lamp on.
    #[test]
    fn confirmed_codes_come_with_severity_and_status() {
        let response = [
            0x59, 0x42, 0x33, 0xFF, 0x1E, 0x04, //
            0x02, 0x03, 0x03, 0x00, 0xAF, //
            0x02, 0x02, 0x03, 0x13, 0xAF,
        ];
        let expected = vec!["P0303".to_owned(), "P0203-13".to_owned()];
        assert_eq!(text(&STORED, &response), Some((CodeList::Stored, expected)));
        let none = &response[..6];
        assert_eq!(text(&STORED, none), Some((CodeList::Stored, Vec::new())));
        let (_, codes) = codes(&STORED, &response).unwrap().unwrap();
        assert_eq!(codes[1].bytes(), [0x02, 0x03, 0x13]);
        assert_eq!(codes[1].status, Some(0xAF));
    }

    #[test]
    fn pending_and_permanent_codes_are_their_own_lists() {
        let pending = [
            0x59, 0x42, 0x33, 0xFF, 0x1E, 0x04, 0x02, 0x01, 0x71, 0, 0x07,
        ];
        let request = [0x19, 0x42, 0x33, 0x04, 0x1E];
        let expected = vec!["P0171".to_owned()];
        assert_eq!(
            text(&request, &pending),
            Some((CodeList::Pending, expected.clone()))
        );
        let permanent = [0x59, 0x55, 0x33, 0xFF, 0x04, 0x01, 0x71, 0, 0x2C];
        assert_eq!(
            text(&[0x19, 0x55, 0x33], &permanent),
            Some((CodeList::Permanent, expected.clone()))
        );
        let by_status = [0x59, 0x02, 0xFF, 0x01, 0x71, 0, 0x2C];
        assert_eq!(
            text(&[0x19, 0x02, 0x08], &by_status),
            Some((CodeList::Stored, expected))
        );
    }

    #[test]
    fn what_does_not_fit_the_question_is_refused() {
        let whole = [
            0x59, 0x42, 0x33, 0xFF, 0x1E, 0x04, 0x02, 0x03, 0x03, 0, 0x2F,
        ];
        let mut other_group = whole;
        other_group[2] = 0xD0;
        let mut not_confirmed = whole;
        not_confirmed[10] = 0x27;
        for wrong in [&whole[..10], &whole[..5], &other_group, &not_confirmed] {
            assert!(codes(&STORED, wrong).is_err(), "{wrong:02X?}");
        }
        // Codes by another standard, and several lists in one, are nothing that is known here.
        let mut other_format = whole;
        other_format[5] = 0x02;
        assert_eq!(codes(&STORED, &other_format), Ok(None));
        assert_eq!(codes(&[0x19, 0x42, 0x33, 0x0C, 0x1E], &whole), Ok(None));
    }

    /// By hand from ISO 14229-1: code, status, record F0 with three identifiers.
    #[test]
    fn a_snapshot_holds_parameters_by_their_identifiers() {
        let request = [0x19, 0x04, 0x03, 0x03, 0x00, 0xFF];
        let response = [
            0x59, 0x04, 0x03, 0x03, 0x00, 0x2F, 0xF0, 0x03, //
            0xF4, 0x0C, 0x0B, 0xB8, 0xF4, 0x06, 0x80, 0xF4, 0x05, 0x7B,
        ];
        let (code, found) = snapshots(&request, &response).unwrap().unwrap();
        assert_eq!(code.code, TroubleCode(0x0303));
        let values = vec![
            (Pid(0x0C), vec![0x0B, 0xB8]),
            (Pid(0x06), vec![0x80]),
            (Pid(0x05), vec![0x7B]),
        ];
        let record = Snapshot {
            record: 0xF0,
            values,
        };
        assert_eq!(found, [record]);
        let (_, none) = snapshots(&request, &response[..6]).unwrap().unwrap();
        assert_eq!(none, []);
        let cut = &response[..16];
        assert_eq!(snapshots(&request, cut), Ok(None));
        let other = [0x19, 0x04, 0x03, 0x04, 0x00, 0xFF];
        assert!(snapshots(&other, &response).is_err());
    }

    #[test]
    fn several_records_are_kept_apart_and_the_unknown_stays_raw() {
        let request = [0x19, 0x04, 0x01, 0x71, 0x00, 0xFF];
        let head = [0x59, 0x04, 0x01, 0x71, 0x00, 0x2C];
        let one = [0xF0, 1, 0xF4, 0x06, 0x90, 0x80];
        let two = [0xF1, 1, 0xF4, 0x0D, 0x32];
        let response = [&head[..], &one, &two].concat();
        let (_, found) = snapshots(&request, &response).unwrap().unwrap();
        let records: Vec<u8> = found.iter().map(|snapshot| snapshot.record).collect();
        assert_eq!(records, [0xF0, 0xF1]);
        assert_eq!(found[0].values, [(Pid(0x06), vec![0x90, 0x80])]);
        // an identifier of the maker, of unknown length
        let maker = [&head[..], &[0xF0, 1, 0xA0, 0x01, 0x55]].concat();
        assert_eq!(snapshots(&request, &maker), Ok(None));
    }
}
