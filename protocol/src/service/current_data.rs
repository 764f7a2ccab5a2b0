//! Service 01: the parameters of an answer, told apart by their lengths, and their numbers.
//!
//! A request may ask up to six parameters; the answer then holds identifier and data of each that the controller
//! supports, with nothing between them (SAE J1979 / ISO 15031-5, service 01). Some parameters are one or two bytes long
//! (trims with a second bank): the split is the one that makes the whole answer fit.

use crate::{
    error::DecodeError,
    item::Item,
    pid::{Pid, support, table},
};

/// Most parameters that one request asks.
const MOST_ASKED: usize = 6;

/// Hands every number of a service 01 answer to `take`. Parameters that are not in the table give none.
///
/// Allocates nothing; made for reading millions of answers.
///
/// # Errors
/// When the answer is not one to this request, or its parameters do not fit the lengths of the table.
#[inline]
pub fn for_each_number(
    request: &[u8],
    response: &[u8],
    mut take: impl FnMut(Item, f64),
) -> Result<(), DecodeError> {
    if let ([0x01, asked], [0x41, pid, data @ ..]) = (request, response)
        && pid == asked
    {
        numbers_of(Pid(*pid), data, &mut take);
        return Ok(());
    }
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

/// Hands every parameter of a service 01 answer with its data bytes to `take`.
///
/// # Errors
/// As [`for_each_number`].
pub fn for_each_parameter<'a>(
    request: &[u8],
    response: &'a [u8],
    take: impl FnMut(Pid, &'a [u8]),
) -> Result<(), DecodeError> {
    let asked = match request {
        [0x01, asked @ ..] if (1..=MOST_ASKED).contains(&asked.len()) => asked,
        [0x01, ..] => return Err(DecodeError::at(request, 1, "one to six parameters")),
        _ => return Err(DecodeError::at(request, 0, "service 01")),
    };
    let Some(rest) = response.strip_prefix(&[0x41]) else {
        return Err(DecodeError::at(response, 0, "41"));
    };
    split(asked, rest, take).ok_or_else(|| DecodeError::at(response, 1, "the parameters asked for"))
}

/// Splits parameters that were asked for; `None` when the bytes do not fit.
pub(super) fn split<'a>(
    asked: &[u8],
    mut rest: &'a [u8],
    mut take: impl FnMut(Pid, &'a [u8]),
) -> Option<()> {
    if let ([only], [pid, data @ ..]) = (asked, rest)
        && pid == only
    {
        // Nothing to tell apart: all of it is this parameter's, whatever its length.
        take(Pid(*pid), data);
        return Some(());
    }
    // Checked before anything is handed on, so that a wrong answer gives nothing at all.
    let mut used = 0;
    first_that_fits(asked, rest, used)?;
    while let Some(piece) = first_that_fits(asked, rest, used)? {
        used |= piece.place;
        let (data, after) = rest.get(1..)?.split_at_checked(piece.length)?;
        take(piece.pid, data);
        rest = after;
    }
    Some(())
}

/// One parameter at the start of an answer.
struct Piece {
    pid: Pid,
    length: usize,
    /// The bit of its place in the request.
    place: u32,
}

/// The parameter at the start of `rest`, with a length that lets all that follows fit too; the inner `None` at the end.
/// Each parameter asked for may come once, so this looks at no more than 2⁶ ways.
fn first_that_fits(asked: &[u8], rest: &[u8], used: u32) -> Option<Option<Piece>> {
    let Some((pid, after)) = rest.split_first() else {
        return Some(None);
    };
    let free = |place: &usize| used >> place & 1 == 0;
    let place = (0..asked.len())
        .filter(free)
        .find(|place| asked.get(*place) == Some(pid))?;
    let place = 1 << place;
    let fits = |length: &usize| {
        after
            .get(*length..)
            .is_some_and(|rest| first_that_fits(asked, rest, used | place).is_some())
    };
    let length = match lengths(Pid(*pid)) {
        Some(lengths) => lengths
            .iter()
            .map(|length| usize::from(*length))
            .find(fits)?,
        // Of unknown length: it can only be the last.
        None => after.len(),
    };
    Some(Some(Piece {
        pid: Pid(*pid),
        length,
        place,
    }))
}

fn lengths(pid: Pid) -> Option<&'static [u8]> {
    if support::is_mask(pid.0) {
        return Some(&[4]);
    }
    table::row(pid).map(|row| row.lengths)
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
        ] {
            assert!(
                numbers(request, response).is_err(),
                "{request:02X?} {response:02X?}"
            );
        }
    }

    proptest::proptest! {
        #[test]
        fn no_bytes_break_the_split(
            request in proptest::collection::vec(0_u8..12, 0..9),
            response in proptest::collection::vec(0_u8..12, 0..24),
        ) {
            let (mut request, mut response) = (request, response);
            request.insert(0, 1);
            response.insert(0, 0x41);
            let _ = numbers(&request, &response);
        }
    }

    #[test]
    fn an_unknown_parameter_gives_no_number_and_is_no_error() {
        expect(&[1, 0xFE], &[0x41, 0xFE, 1, 2, 3], &[]);
    }
}
