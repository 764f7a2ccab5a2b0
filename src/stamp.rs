//! The moment in the name of a file, in UTC: `2026-11-25-101500Z`. Names sort by time wherever and whenever in the year they
//! were given.

use jiff::{Timestamp, civil, tz::TimeZone};

/// Format of the moment in a file name.
const FORM: &str = "%Y-%m-%d-%H%M%S";
/// Format of the day in a file name without a time.
const DAY: &str = "%Y-%m-%d";
/// Number of characters of [`FORM`] when written out.
const FORM_LENGTH: usize = 17;
/// Number of characters of [`DAY`] when written out.
const DAY_LENGTH: usize = 10;

/// What a name says of time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stamp {
    /// The moment.
    Moment(Timestamp),
    /// The clock on the wall where the name was given, as older names and people have it; where that was is not known.
    Wall(civil::DateTime),
}

impl Stamp {
    /// Reads the beginning of a text; a number may follow, as in `2026-11-25-101500Z-002`. `None` when it holds no
    /// time.
    pub fn of(text: &str) -> Option<Self> {
        let time = text.get(..FORM_LENGTH);
        let time = time.and_then(|time| civil::DateTime::strptime(FORM, time).ok());
        let utc = text
            .get(FORM_LENGTH..)
            .is_some_and(|rest| rest.starts_with('Z'));
        match time {
            Some(time) if utc => {
                let moment = TimeZone::UTC.to_timestamp(time).ok();
                moment.map(Self::Moment)
            }
            Some(time) => Some(Self::Wall(time)),
            None => {
                let day = civil::Date::strptime(DAY, text.get(..DAY_LENGTH)?).ok()?;
                Some(Self::Wall(day.to_datetime(civil::Time::midnight())))
            }
        }
    }

    /// The moment, the wall's clock taken for one of this computer's zone.
    pub fn moment(self) -> Option<Timestamp> {
        match self {
            Self::Moment(moment) => Some(moment),
            Self::Wall(time) => TimeZone::system().to_timestamp(time).ok(),
        }
    }
}

/// This moment, for a name.
pub fn now() -> String {
    Timestamp::now().strftime(&format!("{FORM}Z")).to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stamp_is_read_as_utc_and_older_ones_as_the_clock_on_the_wall() {
        let moment = Stamp::Moment("2026-11-25T10:15:00Z".parse().unwrap());
        for text in ["2026-11-25-101500Z", "2026-11-25-101500Z-002"] {
            assert_eq!(Stamp::of(text), Some(moment), "{text}");
        }
        let wall = |text: &str| Some(Stamp::Wall(text.parse().unwrap()));
        assert_eq!(
            Stamp::of("2026-11-25-101500-002"),
            wall("2026-11-25T10:15:00")
        );
        assert_eq!(Stamp::of("2026-11-25-idle"), wall("2026-11-25T00:00:00"));
        for none in ["", "idle", "2026-13-25-101500Z", "2026-11-2", "é026-11-25"] {
            assert_eq!(Stamp::of(none), None, "{none}");
        }
    }

    #[test]
    fn what_is_written_can_be_read() {
        let before = Timestamp::now().as_second();
        let Some(Stamp::Moment(moment)) = Stamp::of(&now()) else {
            panic!("not in UTC");
        };
        assert!((before..=Timestamp::now().as_second()).contains(&moment.as_second()));
    }
}
