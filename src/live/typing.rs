//! What is typed on the last line: what a mark is about, or the time that a replay is to go to.

/// A text is never longer, letters.
const LONGEST: usize = 200;

/// Hours beyond these are no time of any recording.
const MOST_HOURS: u64 = 999;

/// What the text is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// It is added to a mark that is written already.
    Mark,
    /// It is where the replay goes.
    Time,
}

/// A text being typed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Typing {
    /// What it is for.
    pub purpose: Purpose,
    /// What is typed so far.
    pub text: String,
}

impl Typing {
    /// Nothing typed yet.
    pub const fn begin(purpose: Purpose) -> Self {
        Self {
            purpose,
            text: String::new(),
        }
    }

    /// Adds a letter, if it can belong to such a text.
    pub fn add(&mut self, letter: char) {
        let belongs = match self.purpose {
            Purpose::Mark => !letter.is_control(),
            Purpose::Time => letter.is_ascii_digit() || letter == ':',
        };
        if belongs && self.text.chars().count() < LONGEST {
            self.text.push(letter);
        }
    }

    /// The time that is typed, µs since the recording started: minutes, minutes:seconds or hours:minutes:seconds.
    pub fn time_us(&self) -> Option<u64> {
        let parts: Vec<u64> = self
            .text
            .split(':')
            .map(|part| part.parse().ok())
            .collect::<Option<_>>()?;
        let (hours, minutes, seconds) = match *parts.as_slice() {
            [minutes] => (0, minutes, 0),
            [minutes, seconds] => (0, minutes, seconds),
            [hours, minutes, seconds] if minutes < 60 => (hours, minutes, seconds),
            _ => return None,
        };
        let is_time = hours <= MOST_HOURS && minutes <= 60 * MOST_HOURS && seconds < 60;
        is_time.then(|| ((hours * 60 + minutes) * 60 + seconds) * 1_000_000)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn typed(text: &str) -> Typing {
        let mut typing = Typing::begin(Purpose::Time);
        text.chars().for_each(|letter| typing.add(letter));
        typing
    }

    #[test]
    fn times_are_read_as_the_screen_writes_them() {
        for (text, seconds) in [
            ("0", 0),
            ("12", 720),
            ("12:30", 750),
            ("75:00", 4500),
            ("1:15:00", 4500),
            ("01:02:03", 3723),
        ] {
            assert_eq!(typed(text).time_us(), Some(seconds * 1_000_000), "{text}");
        }
        for text in [
            "",
            ":",
            "12:",
            "1:60",
            "1:60:00",
            "1:2:3:4",
            "99999999999999999999",
            "9999999:00",
        ] {
            assert_eq!(typed(text).time_us(), None, "{text}");
        }
    }

    #[test]
    fn only_what_can_stand_in_a_time_is_taken() {
        assert_eq!(typed("q1 2m:3-0").text, "12:30");
    }
}
