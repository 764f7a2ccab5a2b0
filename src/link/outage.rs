//! Which states of the link are written down: a change at once, repeats with their count. An adapter that comes back and
//! fails again, as often as it can, floods neither the capture nor the terminal, and is opened again less and less often.

/// The link is sound again when answers have come for so long, µs.
const SOUND_US: u64 = 5_000_000;

/// A state that repeats within an outage is written again after this time, µs. Each time doubles it …
const REPEAT_US: u64 = 10_000_000;

/// … up to this, µs.
const LONGEST_REPEAT_US: u64 = 60_000_000;

/// So many different states of an outage are written the moment they come; what else comes counts as a repeat.
const MOST_STATES: usize = 8;

/// Wait before an adapter that was lost for the second time in an outage is opened again, µs. Each loss doubles it …
const BACKOFF_US: u64 = 1_000_000;

/// … up to this, µs.
const LONGEST_BACKOFF_US: u64 = 8_000_000;

/// What is written when answers come again.
const RESTORED: &str = "restored";

/// Follows the link through its outages. An outage begins with a trouble and is over when answers have come for some
/// seconds: what fails before that belongs to it.
#[derive(Debug, Default)]
pub(super) struct Outages {
    current: Option<Outage>,
}

#[derive(Debug)]
struct Outage {
    began_us: u64,
    /// Different states, and how often each came.
    states: Vec<(String, u64)>,
    /// How often any state came.
    troubles: u64,
    /// How often the link failed, for the first time or after it seemed restored.
    failures: u64,
    losses: u32,
    /// The latest state, unless it was written.
    unwritten: Option<String>,
    written_us: u64,
    repeat_us: u64,
    /// Since when answers come again.
    answering_since_us: Option<u64>,
    /// Whether it was written already, too early, that they do.
    was_restored: bool,
    /// Whether the row written last is a trouble.
    shows_trouble: bool,
}

impl Outages {
    /// The link is in trouble. Gives what is to be written, if anything.
    pub fn trouble(&mut self, now_us: u64, words: &str) -> Option<String> {
        let outage = self.current.get_or_insert_with(|| Outage::begin(now_us));
        outage.trouble(now_us, words)
    }

    /// The adapter is lost. Gives what is to be written, if anything.
    pub fn lost(&mut self, now_us: u64, words: &str) -> Option<String> {
        let outage = self.current.get_or_insert_with(|| Outage::begin(now_us));
        outage.losses = outage.losses.saturating_add(1);
        outage.trouble(now_us, &format!("lost: {words}"))
    }

    /// How long to wait before a lost adapter is opened again, µs: not at all the first time.
    pub fn backoff_us(&self) -> u64 {
        let losses = self.current.as_ref().map_or(0, |outage| outage.losses);
        match losses {
            0 | 1 => 0,
            // the exponent is bounded only so that it cannot overflow
            again => (BACKOFF_US << (again - 2).min(16)).min(LONGEST_BACKOFF_US),
        }
    }

    /// Answers can come again. Gives what is to be written, if anything: only once in an outage is this believed before
    /// it has proved true.
    pub fn restored(&mut self, now_us: u64) -> Option<String> {
        let outage = self.current.as_mut()?;
        outage.answering_since_us.get_or_insert(now_us);
        if outage.was_restored {
            return None;
        }
        (outage.was_restored, outage.shows_trouble) = (true, false);
        Some(RESTORED.to_owned())
    }

    /// An answer came. Gives what is to be written, if anything.
    pub fn answered(&mut self, now_us: u64) -> Option<String> {
        let is_over = |outage: &mut Outage| {
            let since_us = outage.answering_since_us;
            since_us.is_some_and(|since_us| now_us >= since_us.saturating_add(SOUND_US))
        };
        let outage = self.current.take_if(is_over)?;
        let row = || match outage.failures {
            1 => RESTORED.to_owned(),
            failures => format!("{RESTORED}, after it failed {failures} times"),
        };
        outage.shows_trouble.then(row)
    }

    /// The recording ends. Gives what is to be written, if anything.
    pub fn end(&mut self, now_us: u64) -> Option<String> {
        let mut outage = self.current.take()?;
        let words = outage.unwritten.take()?;
        Some(outage.again(now_us, &words))
    }
}

impl Outage {
    const fn begin(now_us: u64) -> Self {
        Self {
            began_us: now_us,
            states: Vec::new(),
            troubles: 0,
            failures: 1,
            losses: 0,
            unwritten: None,
            written_us: now_us,
            repeat_us: REPEAT_US,
            answering_since_us: None,
            was_restored: false,
            shows_trouble: false,
        }
    }

    fn trouble(&mut self, now_us: u64, words: &str) -> Option<String> {
        self.failures += u64::from(self.answering_since_us.take().is_some());
        let is_new = self.count(words);
        let is_due = now_us >= self.written_us.saturating_add(self.repeat_us);
        if !is_new && self.shows_trouble && !is_due {
            self.unwritten = Some(words.to_owned());
            return None;
        }
        if !is_new && is_due {
            self.repeat_us = self.repeat_us.saturating_mul(2).min(LONGEST_REPEAT_US);
        }
        (self.shows_trouble, self.written_us, self.unwritten) = (true, now_us, None);
        Some(self.again(now_us, words))
    }

    /// Counts the state; whether it is a new one, and not one of too many.
    fn count(&mut self, words: &str) -> bool {
        self.troubles += 1;
        if let Some((_, times)) = self.states.iter_mut().find(|(known, _)| known == words) {
            *times += 1;
            return false;
        }
        let is_new = self.states.len() < MOST_STATES;
        if is_new {
            self.states.push((words.to_owned(), 1));
        }
        is_new
    }

    /// The state as it is written: with how often it came, unless it is the first time.
    fn again(&self, now_us: u64, words: &str) -> String {
        let known = self.states.iter().find(|(known, _)| known == words);
        let times = known.map_or(self.troubles, |(_, times)| *times);
        if times == 1 {
            return words.to_owned();
        }
        let seconds = now_us.saturating_sub(self.began_us).div_ceil(1_000_000);
        match words.strip_prefix("lost: ") {
            Some(why) => format!("lost again, {times} times in {seconds} s: {why}"),
            None => format!("again, {times} times in {seconds} s: {words}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Why the link was lost, as the rows repeat it.
    const GONE: &str = "device disconnected";

    #[test]
    fn a_single_outage_is_written_with_its_beginning_and_its_end() {
        let mut outages = Outages::default();
        let row = outages.lost(1_000_000, GONE);
        assert_eq!(row.as_deref(), Some("lost: device disconnected"));
        assert_eq!(outages.backoff_us(), 0);
        assert_eq!(outages.restored(3_000_000).as_deref(), Some(RESTORED));
        for tenth in 30..200 {
            assert_eq!(outages.answered(tenth * 100_000), None);
        }
        // long afterwards it is another one
        let row = outages.lost(30_000_000, GONE);
        assert_eq!(row.as_deref(), Some("lost: device disconnected"));
    }

    /// An adapter that comes back at once, answers once and is gone again, a hundred times a second: the rows, in ten
    /// minutes.
    fn flapping() -> Vec<(u64, String)> {
        let mut outages = Outages::default();
        let mut rows = Vec::new();
        for hundredth in 0..60_000 {
            let now_us = hundredth * 10_000;
            let written = [
                outages.lost(now_us, GONE),
                outages.restored(now_us),
                outages.answered(now_us + 5_000),
            ];
            rows.extend(written.into_iter().flatten().map(|row| (now_us, row)));
        }
        rows.extend(outages.end(600_000_000).map(|row| (600_000_000, row)));
        rows
    }

    #[test]
    fn repeats_are_counted_and_written_less_and_less_often() {
        let rows = flapping();
        let at_s: Vec<u64> = rows.iter().map(|(at_us, _)| at_us / 1_000_000).collect();
        assert_eq!(
            at_s,
            [
                0, 0, 0, 10, 30, 70, 130, 190, 250, 310, 370, 430, 490, 550, 600
            ]
        );
        assert_eq!(rows[1].1, RESTORED);
        assert_eq!(rows[2].1, "lost again, 2 times in 1 s: device disconnected");
        let last = &rows.last().unwrap().1;
        let all = "lost again, 60000 times in 600 s: device disconnected";
        assert_eq!(last, all);
    }

    #[test]
    fn an_adapter_that_fails_again_at_once_is_opened_less_and_less_often() {
        let mut outages = Outages::default();
        let mut now_us = 0;
        let mut waits_s = Vec::new();
        for _ in 0..7 {
            outages.lost(now_us, GONE);
            waits_s.push(outages.backoff_us() / 1_000_000);
            now_us += outages.backoff_us() + 2_000_000;
            outages.restored(now_us);
            outages.answered(now_us);
        }
        assert_eq!(waits_s, [0, 1, 2, 4, 8, 8, 8]);
        // it worked for a while
        let row = outages.answered(now_us + SOUND_US);
        assert_eq!(row.as_deref(), Some("restored, after it failed 7 times"));
        outages.lost(now_us + SOUND_US, GONE);
        assert_eq!(outages.backoff_us(), 0);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(256))]

        // whatever comes, and however often
        #[test]
        fn rows_stay_few_and_the_last_one_is_true(
            steps in prop::collection::vec((0_u64..3_000_000, 0_u8..4, 0_u8..40), 1..2_000),
        ) {
            let mut outages = Outages::default();
            let (mut now_us, mut rows, mut shown) = (0, 0, None);
            for (pause_us, what, words) in steps {
                now_us += pause_us;
                let row = match what {
                    0 => outages.trouble(now_us, &format!("trouble {words}")),
                    1 => outages.lost(now_us, &format!("loss {words}")),
                    2 => outages.restored(now_us),
                    _ => outages.answered(now_us),
                };
                if what < 2 {
                    prop_assert!(row.is_some() || shown == Some(true), "a trouble is on record");
                }
                if let Some(row) = row {
                    rows += 1;
                    shown = Some(!row.starts_with(RESTORED));
                }
                if what == 3 && outages.current.is_none() {
                    prop_assert!(shown != Some(true), "its end is, too");
                }
            }
            // an outage lasts five seconds at least, and has a dozen rows before they get rare
            let most = (now_us / SOUND_US + 1) * (MOST_STATES as u64 + 4) + now_us / REPEAT_US;
            prop_assert!(rows <= most, "{rows} of {most}");
        }
    }
}
