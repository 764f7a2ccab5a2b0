//! The answers that one request got, by their times.

/// Messages of one controller to one request, in the order of their times.
#[derive(Debug, Default)]
pub(super) struct Answers {
    times_us: Vec<u64>,
    /// Where each message ends among the bytes.
    ends: Vec<usize>,
    bytes: Vec<u8>,
}

impl Answers {
    /// Adds a message; its time is not before that of the last one.
    pub fn push(&mut self, t_us: u64, payload: &[u8]) {
        self.bytes.extend_from_slice(payload);
        self.times_us.push(t_us);
        self.ends.push(self.bytes.len());
    }

    /// The number of the newest message at `t_us`, or before the first message the first one's. Of several messages of
    /// one time it is the last.
    pub fn newest(&self, t_us: u64) -> Option<usize> {
        let t_us = t_us.max(*self.times_us.first()?);
        let after = self.times_us.partition_point(|time_us| *time_us <= t_us);
        after.checked_sub(1)
    }

    /// The time of a message, µs.
    pub fn time_us(&self, number: usize) -> Option<u64> {
        self.times_us.get(number).copied()
    }

    /// A message.
    pub fn payload(&self, number: usize) -> &[u8] {
        let end = |number: usize| self.ends.get(number).copied();
        let start = number.checked_sub(1).map_or(Some(0), end);
        let range = start.zip(end(number)).map(|(start, end)| start..end);
        range
            .and_then(|range| self.bytes.get(range))
            .unwrap_or_default()
    }

    /// The messages that came at the same time as this one, in order, up to it.
    pub fn together(&self, number: usize) -> impl Iterator<Item = &[u8]> {
        let time_us = self.time_us(number).unwrap_or_default();
        let first = self.times_us.partition_point(|other| *other < time_us);
        (first..=number).map(|number| self.payload(number))
    }

    /// How many messages there are.
    pub const fn len(&self) -> usize {
        self.times_us.len()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_newest_answer_is_given_and_before_all_of_them_the_first() {
        let mut answers = Answers::default();
        assert_eq!(answers.newest(5), None);
        for (t_us, payload) in [(10, "one"), (20, "two"), (20, "three"), (30, "")] {
            answers.push(t_us, payload.as_bytes());
        }
        let at = |t_us| answers.payload(answers.newest(t_us).unwrap());
        assert_eq!(at(0), b"one");
        assert_eq!(at(10), b"one");
        assert_eq!(at(19), b"one");
        assert_eq!(at(29), b"three");
        assert_eq!(at(1_000), b"");
        let of_20: Vec<&[u8]> = answers.together(2).collect();
        assert_eq!(of_20, [&b"two"[..], b"three"]);
        assert_eq!(answers.payload(9), b"");
    }
}
