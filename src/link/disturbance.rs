//! Requests that had to be made again: a single one is nothing to report, many of them are.

/// Requests are counted over so long, µs.
const WINDOW_US: u64 = 10_000_000;

/// A window is told of when at least so many requests in it had to be made again …
const MANY: u64 = 3;

/// … and at least this part of all (common practice: a sound link loses less than one answer in a thousand).
const MUCH: f64 = 0.02;

/// It is told again only after this time, µs.
const TELL_AGAIN_US: u64 = 60_000_000;

/// What to do about answers that come damaged.
const ADVICE: &str = "; push both plugs in firmly and keep the cable away from the ignition leads";

/// Counts requests that were made again.
#[derive(Debug, Default)]
pub(super) struct Disturbance {
    /// All of them so far.
    pub total: u64,
    began_us: u64,
    requests: u64,
    again: u64,
    why: String,
    reported_us: Option<u64>,
}

impl Disturbance {
    /// A request is made again; `words` say why, up to a semicolon.
    pub fn asked_again(&mut self, words: &str) {
        self.total += 1;
        self.again += 1;
        words
            .split(';')
            .next()
            .unwrap_or_default()
            .clone_into(&mut self.why);
    }

    /// A request is over, with or without an answer. Gives words when disturbances have become a habit.
    pub fn request_over(&mut self, now_us: u64) -> Option<String> {
        self.requests += 1;
        if now_us < self.began_us.saturating_add(WINDOW_US) {
            return None;
        }
        let (again, requests) = (self.again, self.requests);
        (self.again, self.requests, self.began_us) = (0, 0, now_us);
        let much = again >= MANY && again as f64 >= MUCH * requests as f64;
        let reported = self.reported_us;
        let long_ago =
            reported.is_none_or(|reported_us| now_us >= reported_us.saturating_add(TELL_AGAIN_US));
        (much && long_ago).then(|| {
            self.reported_us = Some(now_us);
            let why = &self.why;
            let advice = if why.contains("damaged") { ADVICE } else { "" };
            format!("{again} of {requests} requests had to be repeated ({why}){advice}")
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ten requests a second for so many seconds, `again` out of ten of them made twice; what was told, and when.
    fn reported(seconds: u64, again: u64) -> Vec<(u64, String)> {
        let mut disturbance = Disturbance::default();
        let mut reported = Vec::new();
        for tenth in 0..seconds * 10 {
            if tenth % 10 < again {
                disturbance.asked_again("an answer was damaged; asking again");
            }
            let words = disturbance.request_over(tenth * 100_000);
            reported.extend(words.map(|words| (tenth / 10, words)));
        }
        assert_eq!(disturbance.total, seconds * again);
        reported
    }

    #[test]
    fn a_habit_is_told_once_a_minute_with_its_reason() {
        let reported = reported(180, 2);
        let times: Vec<u64> = reported.iter().map(|(second, _)| *second).collect();
        assert_eq!(times, [10, 70, 130]);
        let words = &reported[0].1;
        assert!(
            words.contains("(an answer was damaged)") && words.contains("plug"),
            "{words}"
        );
    }

    #[test]
    fn single_disturbances_are_only_counted() {
        let mut disturbance = Disturbance::default();
        for tenth in 0..6000 {
            if tenth % 300 == 0 {
                disturbance.asked_again("an answer was damaged; asking again");
            }
            assert_eq!(disturbance.request_over(tenth * 100_000), None);
        }
        assert_eq!(disturbance.total, 20);
    }
}
