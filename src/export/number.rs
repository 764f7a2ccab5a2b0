//! Numbers as they are written in tables.

/// Up to six decimals, finer than any scaling of SAE J1979, without zeros that say nothing.
pub(super) fn text(value: f64) -> String {
    let text = format!("{value:.6}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    match text {
        "-0" => "0".to_owned(),
        _ => text.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::text;

    #[test]
    fn zeros_that_say_nothing_are_left_away() {
        for (value, expected) in [
            (1168.75, "1168.75"),
            (100.0, "100"),
            (0.0, "0"),
            (-0.000_000_1, "0"),
            (-3.125, "-3.125"),
            (100.0 / 255.0, "0.392157"),
        ] {
            assert_eq!(text(value), expected);
        }
    }
}
