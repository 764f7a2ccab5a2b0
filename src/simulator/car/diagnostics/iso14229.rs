//! What newer controllers tell by ISO 14229 services, as SAE J1979-2 has them (from memory): data by identifier (22) and
//! codes (19). The data themselves are those of SAE J1979.

/// Negative response code: subfunction not supported (ISO 14229-1).
pub const SUBFUNCTION_NOT_SUPPORTED: u8 = 0x12;
/// Negative response code: incorrect message length (ISO 14229-1).
pub const WRONG_LENGTH: u8 = 0x13;
/// Negative response code: request out of range (ISO 14229-1).
pub const OUT_OF_RANGE: u8 = 0x31;

/// Most identifiers that a controller takes at once.
const MOST_IDENTIFIERS: usize = 6;

/// Emissions-related systems as a functional group.
const EMISSIONS: u8 = 0x33;
/// Status bit: pending (ISO 14229-1).
const PENDING: u8 = 0x04;
/// Status bit: confirmed (ISO 14229-1).
const CONFIRMED: u8 = 0x08;
/// Status bit: failed since the last clearing (ISO 14229-1).
const FAILED_SINCE_CLEAR: u8 = 0x20;
/// Status bit: the check-engine light is requested (ISO 14229-1).
const LAMP: u8 = 0x80;
/// Status bits that the controllers keep.
const STATUS_KEPT: u8 = PENDING | CONFIRMED | FAILED_SINCE_CLEAR | LAMP;
/// Severity class that the controllers report for every code: class 1.
const SEVERITY: u8 = 0x02;
/// Severity classes that exist.
const SEVERITIES_KEPT: u8 = 0x1E;
/// Format of the codes: three bytes by SAE J2012-DA.
const FORMAT: u8 = 0x04;
/// Third byte of a code: failure type 00, general (SAE J2012-DA).
const FAILURE_TYPE: u8 = 0x00;
/// Number of the record that holds the freeze frame.
const FREEZE_FRAME: u8 = 0xF0;
/// Record number that requests all records.
const ALL_RECORDS: u8 = 0xFF;

/// The lists of one controller, as service 19 sees them.
#[derive(Debug, Clone, Copy)]
pub struct Lists<'a> {
    /// Confirmed codes.
    pub stored: &'a [u16],
    /// Codes of this or the last driving cycle.
    pub pending: &'a [u16],
    /// Codes that clearing leaves.
    pub permanent: &'a [u16],
}

/// Service 22: each identifier that there is adds itself and its data.
///
/// # Errors
/// The reason for a no.
pub fn read(identifiers: &[u8], data: impl Fn(u8, u8) -> Option<Vec<u8>>) -> Result<Vec<u8>, u8> {
    let (pairs, odd) = identifiers.as_chunks::<2>();
    if !odd.is_empty() || !(1..=MOST_IDENTIFIERS).contains(&pairs.len()) {
        return Err(WRONG_LENGTH);
    }
    let mut payload = vec![0x62];
    for [high, low] in pairs {
        if let Some(data) = data(*high, *low) {
            payload.extend([*high, *low]);
            payload.extend(data);
        }
    }
    match payload.len() {
        1 => Err(OUT_OF_RANGE),
        _ => Ok(payload),
    }
}

/// Service 19: `rest` is what stands behind the service. `frozen` gives identifiers with data of the freeze frame of a
/// code, if it has one.
///
/// # Errors
/// The reason for a no.
pub fn codes(
    rest: &[u8],
    lists: Lists<'_>,
    frozen: impl Fn(u16) -> Option<Vec<(u8, Vec<u8>)>>,
) -> Result<Vec<u8>, u8> {
    match *rest {
        [0x42, EMISSIONS, status_mask, severity_mask] => {
            let head = [0x59, 0x42, EMISSIONS, STATUS_KEPT, SEVERITIES_KEPT, FORMAT];
            let severe = SEVERITY & severity_mask != 0;
            let records = lists.known().filter(|_| severe).filter_map(|code| {
                let status = lists.status(code);
                (status & status_mask != 0)
                    .then(|| [&[SEVERITY][..], &record(code, status)].concat())
            });
            Ok([&head[..], &records.collect::<Vec<_>>().concat()].concat())
        }
        [0x55, EMISSIONS] => {
            let head = [0x59, 0x55, EMISSIONS, STATUS_KEPT, FORMAT];
            let permanent = lists.permanent.iter();
            let records = permanent.map(|code| record(*code, lists.status(*code)));
            Ok([&head[..], &records.collect::<Vec<_>>().concat()].concat())
        }
        [
            0x04,
            high,
            low,
            FAILURE_TYPE,
            number @ (FREEZE_FRAME | ALL_RECORDS),
        ] => {
            let code = u16::from_be_bytes([high, low]);
            if !lists.known().any(|known| known == code) {
                return Err(OUT_OF_RANGE);
            }
            let mut payload = [&[0x59, 0x04][..], &record(code, lists.status(code))].concat();
            match frozen(code) {
                Some(values) => {
                    payload.extend([FREEZE_FRAME, values.len() as u8]);
                    for (pid, data) in values {
                        payload.extend([0xF4, pid]);
                        payload.extend(data);
                    }
                }
                None if number == ALL_RECORDS => {}
                None => return Err(OUT_OF_RANGE),
            }
            Ok(payload)
        }
        [0x42 | 0x55 | 0x04, ..] => Err(match rest.len() {
            2 | 4 | 5 => OUT_OF_RANGE,
            _ => WRONG_LENGTH,
        }),
        _ => Err(SUBFUNCTION_NOT_SUPPORTED),
    }
}

impl Lists<'_> {
    /// Every code of any list but the permanent one, once.
    fn known(&self) -> impl Iterator<Item = u16> + '_ {
        let others = self.pending.iter();
        let others = others.filter(|code| !self.stored.contains(code));
        self.stored.iter().chain(others).copied()
    }

    fn status(&self, code: u16) -> u8 {
        let mut status = 0;
        if self.pending.contains(&code) {
            status |= PENDING | FAILED_SINCE_CLEAR;
        }
        if self.stored.contains(&code) {
            status |= CONFIRMED | FAILED_SINCE_CLEAR | LAMP;
        }
        status
    }
}

fn record(code: u16, status: u8) -> [u8; 4] {
    let [high, low] = code.to_be_bytes();
    [high, low, FAILURE_TYPE, status]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Lists of one controller for the tests.
    const LISTS: Lists<'_> = Lists {
        stored: &[0x0303],
        pending: &[0x0303, 0x0300],
        permanent: &[0x0303],
    };

    fn nothing(_: u16) -> Option<Vec<(u8, Vec<u8>)>> {
        None
    }

    /// Layout by ISO 14229-1: group, kept status, kept severity, format, then severity, code and status of each.
    #[test]
    fn codes_are_reported_by_status() {
        assert_eq!(
            codes(&[0x42, 0x33, 0x08, 0x1E], LISTS, nothing),
            Ok(vec![
                0x59, 0x42, 0x33, 0xAC, 0x1E, 0x04, 0x02, 0x03, 0x03, 0x00, 0xAC
            ])
        );
        let pending = codes(&[0x42, 0x33, 0x04, 0x1E], LISTS, nothing).unwrap();
        assert_eq!(pending[6..], [2, 3, 3, 0, 0xAC, 2, 3, 0, 0, 0x24]);
        let permanent = codes(&[0x55, 0x33], LISTS, nothing);
        assert_eq!(
            permanent.unwrap(),
            [0x59, 0x55, 0x33, 0xAC, 0x04, 3, 3, 0, 0xAC]
        );
        assert_eq!(
            codes(&[0x42, 0xD0, 8, 2], LISTS, nothing),
            Err(OUT_OF_RANGE)
        );
        assert_eq!(codes(&[0x42, 0x33, 8], LISTS, nothing), Err(WRONG_LENGTH));
        assert_eq!(
            codes(&[0x7B], LISTS, nothing),
            Err(SUBFUNCTION_NOT_SUPPORTED)
        );
    }

    #[test]
    fn a_freeze_frame_stands_in_a_record_of_its_code() {
        let frozen = |code| (code == 0x0303).then(|| vec![(0x05, vec![0x7B])]);
        let ask = |low, number| codes(&[0x04, 0x03, low, 0x00, number], LISTS, frozen);
        let expected = vec![0x59, 4, 3, 3, 0, 0xAC, 0xF0, 1, 0xF4, 5, 0x7B];
        assert_eq!(ask(0x03, 0xFF), Ok(expected.clone()));
        assert_eq!(ask(0x03, 0xF0), Ok(expected));
        assert_eq!(ask(0x00, 0xFF), Ok(vec![0x59, 4, 3, 0, 0, 0x24]));
        assert_eq!(ask(0x00, 0xF0), Err(OUT_OF_RANGE));
        assert_eq!(ask(0x71, 0xFF), Err(OUT_OF_RANGE));
    }

    #[test]
    fn identifiers_that_are_not_there_are_left_out() {
        let data = |high, low| (high == 0xF4 && low == 0x05).then(|| vec![0x7B]);
        assert_eq!(
            read(&[0xF4, 0x52, 0xF4, 0x05], data),
            Ok(vec![0x62, 0xF4, 0x05, 0x7B])
        );
        assert_eq!(read(&[0xF4, 0x52], data), Err(OUT_OF_RANGE));
        assert_eq!(read(&[0xF4], data), Err(WRONG_LENGTH));
        assert_eq!(read(&[], data), Err(WRONG_LENGTH));
        assert_eq!(read(&[0xF4; 14], data), Err(WRONG_LENGTH));
    }
}
