//! One field of a foreign table as a number.

/// What a field holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Field {
    /// A number.
    Number(f64),
    /// Nothing, or a word for nothing.
    Missing,
    /// Something else.
    Unreadable,
}

/// Words that loggers write where there is no reading.
const NOTHING: [&str; 11] = [
    "", "na", "n/a", "nan", "null", "none", "-", "--", "---", "?", "no data",
];

impl Field {
    /// Reads a field. A comma stands for the decimal point when there is no point and only one comma; but where commas
    /// stand between the fields, a quoted `1,234` could as well be thousands and is not read.
    pub fn of(text: &str, delimiter: u8) -> Self {
        let text = text.trim();
        if NOTHING.iter().any(|word| text.eq_ignore_ascii_case(word)) {
            return Self::Missing;
        }
        let parsed = match text.split_once(',') {
            Some((_, part)) if delimiter == b',' && part.len() == 3 => return Self::Unreadable,
            Some((whole, part)) if !text.contains('.') => format!("{whole}.{part}").parse(),
            _ => text.parse::<f64>(),
        };
        match parsed {
            Ok(number) if number.is_finite() => Self::Number(number),
            _ => Self::Unreadable,
        }
    }

    /// The number, if it is one.
    pub const fn number(self) -> Option<f64> {
        match self {
            Self::Number(number) => Some(number),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fields_of_many_loggers_are_read() {
        for (text, field) in [
            ("17.647058", Field::Number(17.647058)),
            (" -3,125 ", Field::Number(-3.125)),
            ("+4", Field::Number(4.0)),
            ("1e3", Field::Number(1000.0)),
            ("", Field::Missing),
            ("N/A", Field::Missing),
            ("NaN", Field::Missing),
            ("inf", Field::Unreadable),
            ("warm", Field::Unreadable),
            ("1,234,567", Field::Unreadable),
            ("1.234,5", Field::Unreadable),
        ] {
            assert_eq!(Field::of(text, b';'), field, "{text:?}");
        }
        assert_eq!(Field::of("12,5", b','), Field::Number(12.5));
        assert_eq!(Field::of("1,234", b','), Field::Unreadable);
    }
}
