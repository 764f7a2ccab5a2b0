//! Vehicle information: service 09 in the form of CAN (information type, number of items, items), to
//! which the answers of the older buses are brought when their messages are joined; and identifiers
//! F8xx of service 22, with or without the number of items (SAE J1979-2; from memory).

use crate::{error::DecodeError, pid::readiness::Ignition};

/// Characters of a vehicle identification number (ISO 3779).
const VIN_LENGTH: usize = 17;

/// Vehicle information other than the identification number.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Information {
    /// Type 04: names of the calibrations.
    CalibrationIdentifiers(Vec<String>),
    /// Type 06: check numbers of the calibrations, in the same order.
    CalibrationNumbers(Vec<u32>),
    /// Type 0A: name of the controller.
    ControllerName(String),
    /// Types 08 (spark ignition) and 0B (compression ignition): how often monitors ran in use.
    Performance {
        /// Which of the two types.
        ignition: Ignition,
        /// Its counters, in the order of the standard.
        counters: Vec<Counter>,
    },
}

/// One counter of in-use performance.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Counter {
    /// What it counts; `None` beyond the counters that are named here.
    pub name: Option<&'static str>,
    /// The count, which halves with all others when one reaches its end.
    pub count: u16,
}

/// Counters of type 08 in order (SAE J1979, Appendix G; from memory).
const SPARK: [&str; 20] = [
    "conditions met in general",
    "ignition cycles",
    "catalyst bank 1 completed",
    "catalyst bank 1 conditions met",
    "catalyst bank 2 completed",
    "catalyst bank 2 conditions met",
    "oxygen sensor bank 1 completed",
    "oxygen sensor bank 1 conditions met",
    "oxygen sensor bank 2 completed",
    "oxygen sensor bank 2 conditions met",
    "recirculation or valve timing completed",
    "recirculation or valve timing conditions met",
    "secondary air completed",
    "secondary air conditions met",
    "evaporative system completed",
    "evaporative system conditions met",
    "second oxygen sensor bank 1 completed",
    "second oxygen sensor bank 1 conditions met",
    "second oxygen sensor bank 2 completed",
    "second oxygen sensor bank 2 conditions met",
];

/// Counters of type 0B in order (from memory).
const COMPRESSION: [&str; 18] = [
    "conditions met in general",
    "ignition cycles",
    "NMHC catalyst completed",
    "NMHC catalyst conditions met",
    "NOx catalyst completed",
    "NOx catalyst conditions met",
    "NOx adsorber completed",
    "NOx adsorber conditions met",
    "particulate filter completed",
    "particulate filter conditions met",
    "exhaust gas sensor completed",
    "exhaust gas sensor conditions met",
    "recirculation or valve timing completed",
    "recirculation or valve timing conditions met",
    "boost pressure completed",
    "boost pressure conditions met",
    "fuel system completed",
    "fuel system conditions met",
];

/// The vehicle identification number in the bytes after the information type; `None` when they hold
/// none. Before it stand the number of items and, if need be, filling zeros.
pub(super) fn vehicle_identification_number(bytes: &[u8]) -> Option<String> {
    let (before, text) = bytes.split_at_checked(bytes.len().checked_sub(VIN_LENGTH)?)?;
    let plain = before.len() <= 4 && before.iter().all(|byte| *byte <= 1);
    let printable = text.iter().all(u8::is_ascii_alphanumeric);
    (plain && printable).then(|| text.iter().copied().map(char::from).collect())
}

/// The part of an answer behind the information type.
#[derive(Debug, Clone, Copy)]
pub(super) struct Body<'a> {
    /// The whole answer.
    pub response: &'a [u8],
    /// Where the part begins.
    pub at: usize,
    /// The number of items may be missing.
    pub may_be_uncounted: bool,
}

/// Information of a type other than 02; `None` for a type that is not known here, and for text with
/// characters that cannot be printed.
///
/// # Errors
/// When the bytes are not as many items as they say.
pub(super) fn information(
    info_type: u8,
    body: Body<'_>,
) -> Result<Option<Information>, DecodeError> {
    Ok(match info_type {
        0x04 => texts(body.items::<16>()?).map(Information::CalibrationIdentifiers),
        0x06 => {
            let numbers = body.items::<4>()?.iter().copied();
            let numbers = numbers.map(u32::from_be_bytes).collect();
            Some(Information::CalibrationNumbers(numbers))
        }
        0x0A => texts(body.items::<20>()?).map(|names| Information::ControllerName(names.concat())),
        0x08 => Some(performance(body.items::<2>()?, Ignition::Spark)),
        0x0B => Some(performance(body.items::<2>()?, Ignition::Compression)),
        _ => None,
    })
}

impl<'a> Body<'a> {
    /// The bytes.
    pub fn bytes(self) -> &'a [u8] {
        self.response.get(self.at..).unwrap_or_default()
    }

    /// The items behind their number. Where that may be missing, the length tells whether it is.
    fn items<const N: usize>(self) -> Result<&'a [[u8; N]], DecodeError> {
        let bytes = self.bytes();
        if self.may_be_uncounted
            && let (items @ [_, ..], []) = bytes.as_chunks::<N>()
        {
            return Ok(items);
        }
        let Some((count, bytes)) = bytes.split_first() else {
            return Err(DecodeError::at(self.response, self.at, "a number of items"));
        };
        let (items, odd) = bytes.as_chunks::<N>();
        if !odd.is_empty() || items.len() != usize::from(*count) {
            let expected = format!("{count} items of {N} bytes");
            return Err(DecodeError::at(
                self.response,
                self.response.len(),
                expected,
            ));
        }
        Ok(items)
    }
}

/// Texts without the zeros that fill them.
fn texts<const N: usize>(items: &[[u8; N]]) -> Option<Vec<String>> {
    let text = |item: &[u8; N]| {
        let characters = item.iter().filter(|byte| **byte != 0);
        let printable = |byte: &u8| (0x20..0x7F).contains(byte).then_some(char::from(*byte));
        let text: Option<String> = characters.map(printable).collect();
        text.map(|text| text.trim().to_owned())
    };
    items.iter().map(text).collect()
}

fn performance(counts: &[[u8; 2]], ignition: Ignition) -> Information {
    let names = match ignition {
        Ignition::Spark => &SPARK[..],
        Ignition::Compression => &COMPRESSION[..],
    };
    let counter = |(at, bytes): (usize, &[u8; 2])| Counter {
        name: names.get(at).copied(),
        count: u16::from_be_bytes(*bytes),
    };
    Information::Performance {
        ignition,
        counters: counts.iter().enumerate().map(counter).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Information in an answer of service 09.
    fn information(response: &[u8]) -> Result<Option<Information>, DecodeError> {
        let body = Body {
            response,
            at: 2,
            may_be_uncounted: false,
        };
        super::information(response[1], body)
    }

    #[test]
    fn the_number_is_found_behind_count_or_filling() {
        let number = b"XX1HARB0URR0W0003";
        let with_count = [&[1][..], number].concat();
        let with_filling = [&[0, 0, 0][..], number].concat();
        for bytes in [with_count, with_filling] {
            let found = vehicle_identification_number(&bytes);
            assert_eq!(found.as_deref(), Some("XX1HARB0URR0W0003"));
        }
        assert_eq!(vehicle_identification_number(&[1, 0xFF, 0xFF]), None);
        assert_eq!(vehicle_identification_number(&[0xFF; 18]), None);
        let behind_text = [&b"AB"[..], number].concat();
        assert_eq!(vehicle_identification_number(&behind_text), None);
    }

    /// Sizes of items by SAE J1979, Appendix G: calibration 16 bytes, check number 4, name 20,
    /// counter 2.
    #[test]
    fn items_are_cut_by_their_size() {
        let calibrations = [
            &[0x49, 4, 2][..],
            b"HARBOUR-0001\0\0\0\0",
            b"ROW2 \0\0\0\0\0\0\0\0\0\0\0",
        ];
        let names = ["HARBOUR-0001", "ROW2"].map(str::to_owned).to_vec();
        assert_eq!(
            information(&calibrations.concat()),
            Ok(Some(Information::CalibrationIdentifiers(names)))
        );
        assert_eq!(
            information(&[0x49, 6, 2, 0x17, 0x91, 0xBC, 0x82, 0, 0, 0, 1]),
            Ok(Some(Information::CalibrationNumbers(vec![0x1791_BC82, 1])))
        );
        let name = [&[0x49, 0x0A, 1][..], b"ECM\0-EngineControl\0\0"].concat();
        assert_eq!(
            information(&name),
            Ok(Some(Information::ControllerName(
                "ECM-EngineControl".to_owned()
            )))
        );
    }

    #[test]
    fn behind_an_identifier_the_number_of_items_may_be_missing() {
        let name = [&b"HARBOUR-0001"[..], &[0; 4]].concat();
        let expected = Information::CalibrationIdentifiers(vec!["HARBOUR-0001".to_owned()]);
        for head in [&[0x62, 0xF8, 0x04][..], &[0x62, 0xF8, 0x04, 1]] {
            let response = [head, &name].concat();
            let body = Body {
                response: &response,
                at: 3,
                may_be_uncounted: true,
            };
            let found = super::information(0x04, body);
            assert_eq!(found, Ok(Some(expected.clone())));
        }
    }

    #[test]
    fn counters_keep_their_place() {
        let Ok(Some(Information::Performance { counters, .. })) =
            information(&[0x49, 8, 3, 0x04, 0x00, 0x08, 0x00, 0x00, 0x0B])
        else {
            panic!("no counters");
        };
        let third = counters[2];
        assert_eq!(
            (third.name, third.count),
            (Some("catalyst bank 1 completed"), 11)
        );
    }

    #[test]
    fn what_does_not_match_its_count_is_refused_and_the_unknown_is_let_go() {
        assert!(information(&[0x49, 6, 2, 1, 2, 3, 4]).is_err());
        assert!(information(&[0x49, 6]).is_err());
        assert_eq!(information(&[0x49, 0x0D, 1, 2]), Ok(None));
        let unprintable = [&[0x49, 4, 1][..], &[0x80; 16]].concat();
        assert_eq!(information(&unprintable), Ok(None));
    }
}
