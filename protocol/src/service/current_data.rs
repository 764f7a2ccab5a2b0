//! Current values: the parameters of an answer, told apart by their lengths, and their numbers.
//!
//! A request may ask several parameters; the answer then holds identifier and data of each that the
//! controller supports, with nothing between them (SAE J1979 / ISO 15031-5, service 01). On newer
//! cars the identifiers have two bytes, F4 and the parameter (ISO 14229-1, service 22).

use super::{
    identifier::{Kind, READ, READ_ANSWER},
    request::MOST_PARAMETERS,
    split,
};
use crate::{
    error::DecodeError,
    item::Item,
    pid::{Pid, table},
};

/// Hands every number of an answer of service 01 or 22 to `take`. Parameters that are not in the table give
/// none.
///
/// Allocates nothing; made for reading millions of answers.
///
/// # Errors
/// When the answer is not one to this request, or its bytes fit the lengths of the table in no way
/// or in more than one.
#[inline]
pub fn for_each_number(
    request: &[u8],
    response: &[u8],
    mut take: impl FnMut(Item, f64),
) -> Result<(), DecodeError> {
    for_each_parameter(request, response, |pid, data| {
        numbers_of(pid, data, &mut take)
    })
}

/// Hands every number in the data of one parameter to `take`.
#[inline]
pub fn numbers_of(pid: Pid, data: &[u8], mut take: impl FnMut(Item, f64)) {
    let Some(row) = table::row(pid) else {
        return;
    };
    for (part, quantity) in (0..).zip(row.quantities) {
        if let Some(value) = quantity.value(data) {
            take(Item::part(pid, part), value);
        }
    }
}

/// Hands every parameter of an answer of service 01 or 22 with its data bytes to `take`.
///
/// # Errors
/// As [`for_each_number`].
#[inline]
pub fn for_each_parameter<'a>(
    request: &[u8],
    response: &'a [u8],
    mut take: impl FnMut(Pid, &'a [u8]),
) -> Result<(), DecodeError> {
    match (request, response) {
        ([0x01, asked], [0x41, pid, data @ ..])
        | ([READ, HIGH, asked], [READ_ANSWER, HIGH, pid, data @ ..])
            if pid == asked =>
        {
            let pid = Pid(*pid);
            split::check_length(pid, data.len())
                .map_err(|expected| DecodeError::at(response, response.len(), expected))?;
            take(pid, data);
            Ok(())
        }
        _ => several(request, response, take),
    }
}

/// What the identifiers of current values begin with.
const HIGH: u8 = Kind::Current.high();

fn several<'a>(
    request: &[u8],
    response: &'a [u8],
    mut take: impl FnMut(Pid, &'a [u8]),
) -> Result<(), DecodeError> {
    let mut low = [0; MOST_PARAMETERS];
    let (answer, high, asked) = match request {
        [0x01, asked @ ..] if (1..=MOST_PARAMETERS).contains(&asked.len()) => (0x41, None, asked),
        [0x01, ..] => return Err(DecodeError::at(request, 1, "one to six parameters")),
        [READ, ..] => (READ_ANSWER, Some(HIGH), numbers(request, &mut low)?),
        _ => return Err(DecodeError::at(request, 0, "service 01 or 22")),
    };
    if response.first() != Some(&answer) {
        return Err(DecodeError::at(response, 0, format!("{answer:02X}")));
    }
    for (pid, data) in split::parameters(high, asked, response)?.of(response) {
        take(pid, data);
    }
    Ok(())
}

/// The low bytes of the one to six identifiers of current values in a request.
fn numbers<'a>(
    request: &[u8],
    low: &'a mut [u8; MOST_PARAMETERS],
) -> Result<&'a [u8], DecodeError> {
    let wrong = || DecodeError::at(request, 1, "one to six identifiers F400 to F4FF");
    let (pairs, odd) = request.get(1..).unwrap_or_default().as_chunks::<2>();
    let places = low.get_mut(..pairs.len()).ok_or_else(wrong)?;
    if pairs.is_empty() || !odd.is_empty() || pairs.iter().any(|[high, _]| *high != HIGH) {
        return Err(wrong());
    }
    for (place, [_, number]) in places.iter_mut().zip(pairs) {
        *place = *number;
    }
    Ok(places)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn numbers(request: &[u8], response: &[u8]) -> Result<Vec<(String, f64)>, DecodeError> {
        let mut found = Vec::new();
        for_each_number(request, response, |item, value| {
            found.push((item.to_string(), value))
        })?;
        Ok(found)
    }

    fn expect(request: &[u8], response: &[u8], expected: &[(&str, f64)]) {
        let found = numbers(request, response).unwrap();
        assert_eq!(found.len(), expected.len(), "{found:?}");
        for ((item, value), (expected_item, expected)) in found.iter().zip(expected) {
            assert_eq!(item, expected_item);
            assert!(
                (value - expected).abs() < 1e-9,
                "{item}: {value} for {expected}"
            );
        }
    }

    /// Worked by hand from the scalings of SAE J1979: rpm = raw / 4, trim = raw × 100 / 128 − 100.
    #[test]
    fn one_and_several_parameters_are_told_apart() {
        expect(&[1, 0x0C], &[0x41, 0x0C, 0x0B, 0xB8], &[("010C", 750.0)]);
        expect(
            &[1, 0x0C, 0x06, 0x07],
            &[0x41, 0x0C, 0x0B, 0xB8, 0x06, 0x80, 0x07, 0x84],
            &[("010C", 750.0), ("0106", 0.0), ("0107", 3.125)],
        );
    }

    #[test]
    fn a_trim_with_a_second_bank_is_told_by_the_length_of_the_whole() {
        expect(
            &[1, 0x06, 0x07, 0x0C],
            &[0x41, 0x06, 0x80, 0x84, 0x07, 0x7C, 0x80, 0x0C, 0x0B, 0xB8],
            &[
                ("0106", 0.0),
                ("0106", 3.125),
                ("0107", -3.125),
                ("0107", 0.0),
                ("010C", 750.0),
            ],
        );
        // The second byte of 06 looks like the identifier of 07, but then nothing fits.
        expect(
            &[1, 0x06, 0x07],
            &[0x41, 0x06, 0x80, 0x07, 0x07, 0x80, 0x84],
            &[
                ("0106", 0.0),
                ("0106", 7.0 * 100.0 / 128.0 - 100.0),
                ("0107", 0.0),
                ("0107", 3.125),
            ],
        );
    }

    #[test]
    fn what_the_controller_does_not_support_may_be_missing() {
        expect(
            &[1, 0x0C, 0x52, 0x0D],
            &[0x41, 0x0D, 0x32],
            &[("010D", 50.0)],
        );
    }

    #[test]
    fn an_answer_that_does_not_fit_gives_nothing_and_says_where() {
        for (request, response) in [
            (&[1, 0x0C, 0x0D][..], &[0x41, 0x0C, 0x0B][..]),
            (
                &[1, 0x0C, 0x0D],
                &[0x41, 0x0C, 0x0B, 0xB8, 0x0C, 0x0B, 0xB8],
            ),
            (&[1, 0x0C], &[0x41, 0x0D, 0x32]),
            (&[1, 0x0C], &[0x42, 0x0C, 0x00]),
            (&[1], &[0x41]),
            (&[9, 2], &[0x49, 2]),
            (&[1, 0x0C, 0x0D], &[0x41]),
            // A parameter alone, too short and too long.
            (&[1, 0x0C], &[0x41, 0x0C, 0x0B]),
            (&[1, 0x0C], &[0x41, 0x0C, 0x0B, 0xB8, 0x00]),
            // One trim of bank 1 with a second bank, the other without.
            (
                &[1, 6, 7, 0x0C],
                &[0x41, 6, 0x80, 0x84, 7, 0x80, 0x0C, 0x0B, 0xB8],
            ),
        ] {
            assert!(
                numbers(request, response).is_err(),
                "{request:02X?} {response:02X?}"
            );
        }
    }

    #[test]
    fn another_order_than_asked_is_understood() {
        expect(
            &[1, 0x0C, 0x05],
            &[0x41, 0x05, 0x7B, 0x0C, 0x0B, 0xB8],
            &[("0105", 83.0), ("010C", 750.0)],
        );
    }

    #[test]
    fn bytes_that_fit_in_two_ways_are_refused() {
        // 08 80 | 06 04 | 04 04 or 08 80 06 | 04 04, then 04 is left over: one way only.
        expect(
            &[1, 0x08, 0x06, 0x04],
            &[0x41, 0x08, 0x80, 0x06, 0x04, 0x04, 0x04],
            &[
                ("0108", 0.0),
                ("0106", 4.0 * 100.0 / 128.0 - 100.0),
                ("0104", 400.0 / 255.0),
            ],
        );
        // 06 80 | 08 08 05 or 06 80 08 | 08 05: a third or a fourth bank, who knows.
        let error = numbers(&[1, 0x06, 0x08], &[0x41, 0x06, 0x80, 0x08, 0x08, 0x05]).unwrap_err();
        assert_eq!(error.offset, 1);
    }

    #[test]
    fn an_error_names_the_place_where_it_went_wrong() {
        let wrong = numbers(&[1, 0x0C, 0x05], &[0x41, 0x0C, 0x0B, 0xB8, 0x11, 0x7B]).unwrap_err();
        assert_eq!(wrong.offset, 4);
        let short = numbers(&[1, 0x0C], &[0x41, 0x0C, 0x0B]).unwrap_err();
        assert_eq!(
            short.to_string(),
            "at byte 3: expected 2 data bytes, found the end"
        );
    }

    /// Parameters by ISO 14229-1, service 22: two-byte identifiers F4xx before the data.
    #[test]
    fn data_identifiers_bring_the_same_parameters() {
        expect(
            &[0x22, 0xF4, 0x0C],
            &[0x62, 0xF4, 0x0C, 0x0B, 0xB8],
            &[("010C", 750.0)],
        );
        // Trims of bank 1 with those of bank 3, whose second byte is no identifier.
        expect(
            &[0x22, 0xF4, 0x06, 0xF4, 0x07, 0xF4, 0x0C],
            &[
                0x62, 0xF4, 0x06, 0x80, 0xF4, 0xF4, 0x07, 0x7C, 0x80, 0xF4, 0x0C, 0x0B, 0xB8,
            ],
            &[
                ("0106", 0.0),
                ("0106", 244.0 * 100.0 / 128.0 - 100.0),
                ("0107", -3.125),
                ("0107", 0.0),
                ("010C", 750.0),
            ],
        );
        // What the controller does not have is left out.
        expect(
            &[0x22, 0xF4, 0x0C, 0xF4, 0x52, 0xF4, 0x0D],
            &[0x62, 0xF4, 0x0D, 0x32],
            &[("010D", 50.0)],
        );
    }

    #[test]
    fn an_answer_to_other_identifiers_gives_nothing() {
        for (request, response) in [
            (&[0x22, 0xF4, 0x0C][..], &[0x62, 0xF4, 0x0D, 0x32][..]),
            (&[0x22, 0xF4, 0x0C], &[0x62, 0xF4, 0x0C, 0x0B]),
            (&[0x22, 0xF4, 0x0C], &[0x62, 0xF5, 0x0C, 0x0B, 0xB8]),
            (&[0x22, 0xF5, 0x0C], &[0x62, 0xF5, 0x0C, 0x0B, 0xB8]),
            (&[0x22, 0xF4, 0x0C], &[0x41, 0x0C, 0x0B, 0xB8]),
            (&[0x22, 0xF4, 0x0C, 0xF4], &[0x62, 0xF4, 0x0C, 0x0B, 0xB8]),
            (&[0x22], &[0x62]),
            (
                &[0x22, 0xF4, 0x0C, 0xF4, 0x0D],
                &[0x62, 0xF4, 0x0C, 0x0B, 0xB8, 0x0D, 0x32],
            ),
        ] {
            assert!(
                numbers(request, response).is_err(),
                "{request:02X?} {response:02X?}"
            );
        }
    }

    #[test]
    fn an_unknown_parameter_gives_no_number_and_is_no_error() {
        expect(&[1, 0xFE], &[0x41, 0xFE, 1, 2, 3], &[]);
    }
}
