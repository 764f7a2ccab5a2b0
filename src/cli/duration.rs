//! Spans of time as people type and read them.

use std::{str::FromStr, time::Duration};

use jiff::SignedDuration;

/// A span of time: numbers and `ms`, `s`, `m` or `h`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Span(Duration);

/// A text that is no span of time.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("expected a number above 0 and its unit, as in 250ms, 2s, 10m or 1h")]
pub struct NoSpan;

impl Span {
    /// In microseconds, at least 1.
    pub const fn as_us(self) -> u64 {
        self.0.as_micros() as u64
    }
}

impl FromStr for Span {
    type Err = NoSpan;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let span: SignedDuration = text.parse().map_err(|_| NoSpan)?;
        let span = Duration::try_from(span).map_err(|_| NoSpan)?;
        let within = Duration::from_millis(1)..=Duration::from_secs(7 * 86_400);
        within.contains(&span).then_some(Self(span)).ok_or(NoSpan)
    }
}

/// A length of time in the unit that suits it.
pub fn words(seconds: f64) -> String {
    match seconds {
        ..100.0 => format!("{seconds:.1} s"),
        ..6_000.0 => format!("{:.1} min", seconds / 60.0),
        ..360_000.0 => format!("{:.1} h", seconds / 3_600.0),
        _ => format!("{:.0} days", seconds / 86_400.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_length_is_told_in_the_unit_that_suits_it() {
        for (seconds, told) in [
            (12.34, "12.3 s"),
            (150.0, "2.5 min"),
            (9_000.0, "2.5 h"),
            (9e9, "104167 days"),
        ] {
            assert_eq!(words(seconds), told);
        }
    }

    #[test]
    fn spans_are_read_with_their_units() {
        for (text, us) in [
            ("250ms", 250_000),
            ("1s", 1_000_000),
            ("1.5 s", 1_500_000),
            ("10m", 600_000_000),
            ("1h", 3_600_000_000),
            ("1h 30m", 5_400_000_000),
            ("1,5s", 1_500_000),
        ] {
            assert_eq!(text.parse::<Span>().map(Span::as_us), Ok(us), "{text}");
        }
        for text in [
            "", "1", "s", ".5s", "0s", "-1s", "1d", "inf s", "1e99h", "é",
        ] {
            assert_eq!(text.parse::<Span>(), Err(NoSpan), "{text}");
        }
    }
}
