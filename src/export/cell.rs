//! Cells of a table that a spreadsheet opens: what it would run as a formula is marked with an apostrophe.

use std::borrow::Cow;

use crate::printable;

/// What a formula begins with, in the wide letters of East Asian keyboards too.
const BEGINS_A_FORMULA: [char; 8] = ['=', '+', '-', '@', '＝', '＋', '－', '＠'];

/// The cell for a text. Some programs drop blanks, tabs and line ends in front, so what follows them counts. A number stays
/// as it is.
pub(super) fn cell(text: &str) -> Cow<'_, str> {
    let is_number = || text.parse().is_ok_and(f64::is_finite);
    let shown = printable::line(text);
    if text.trim_start().starts_with(BEGINS_A_FORMULA) && !is_number() {
        Cow::Owned(format!("'{shown}"))
    } else {
        shown
    }
}

#[cfg(test)]
mod tests {
    use super::cell;

    #[test]
    fn text_that_begins_like_a_formula_is_marked_and_numbers_are_not() {
        for (text, expected) in [
            ("=1+1", "'=1+1"),
            ("@SUM(A1)", "'@SUM(A1)"),
            ("+cmd", "'+cmd"),
            ("-inf", "'-inf"),
            ("-2+3", "'-2+3"),
            ("\t=1", "' =1"),
            ("\r\n=1", "' =1"),
            ("＝1", "'＝1"),
            ("-12.5", "-12.5"),
            ("+3", "+3"),
            ("-1e-3", "-1e-3"),
            ("7E8", "7E8"),
            ("a=b", "a=b"),
            ("", ""),
        ] {
            assert_eq!(cell(text), expected, "{text:?}");
        }
    }
}
