//! What to ask next: the question whose time is up the longest, with its fellows where they fit into the same request.

use pintle_protocol::{Pid, service::Services};

use super::{
    plan::{Pace, Wanted},
    question::Question,
};

/// Between one question that needs a request of its own and the next, at the beginning, µs.
const TURN_US: u64 = 100_000;

/// A moment that never comes.
const NEVER: u64 = u64::MAX;

/// Questions and when each is due.
#[derive(Debug)]
pub(super) struct Schedule {
    entries: Vec<Entry>,
    /// How many parameters one request may ask for.
    most: usize,
}

#[derive(Debug)]
struct Entry {
    question: Question,
    /// `None`: asked once.
    period_us: Option<u64>,
    /// How long before its time it may go along with another.
    early_us: u64,
    due_us: u64,
}

impl Schedule {
    /// Everything wanted, due from now on; what needs requests of its own comes one after the other, so that the trims
    /// do not have to wait for all of it. On other buses than CAN nothing is asked together.
    pub fn new(wanted: &[Wanted], is_can: bool, services: Services, now_us: u64) -> Self {
        let mut turn = 0;
        let entry = |wanted: &Wanted| {
            if !matches!(wanted.question, Question::Current(_)) {
                turn += 1;
            }
            let period_us = wanted.pace.period_us(is_can);
            Entry {
                question: wanted.question,
                period_us,
                // a place in a request that is left costs more than one that is filled
                early_us: match wanted.pace {
                    Pace::Often => NEVER,
                    _ => period_us.unwrap_or(0) / 2,
                },
                due_us: match wanted.question {
                    Question::Current(_) => now_us,
                    _ => now_us.saturating_add(turn * TURN_US),
                },
            }
        };
        Self {
            entries: wanted.iter().map(entry).collect(),
            most: match is_can {
                true => services.most_parameters(),
                false => 1,
            },
        }
    }

    /// Adds questions to be asked once, now.
    pub fn add_once(&mut self, questions: &[Question]) {
        let entry = |question: &Question| Entry {
            question: *question,
            period_us: None,
            early_us: 0,
            due_us: 0,
        };
        self.entries.extend(questions.iter().map(entry));
    }

    /// When the next question is due, µs.
    pub fn next_due_us(&self) -> Option<u64> {
        let due = self.entries.iter().map(|entry| entry.due_us).min()?;
        (due != NEVER).then_some(due)
    }

    /// The questions to ask now in one request; none if nothing is due. They are taken as asked. `alone` tells which
    /// parameters this car answers only when they are asked by themselves.
    pub fn take_due(&mut self, now_us: u64, alone: impl Fn(Pid) -> bool) -> Vec<Question> {
        let due = self.entries.iter().enumerate();
        let Some((first, entry)) = due.min_by_key(|(_, entry)| entry.due_us) else {
            return Vec::new();
        };
        if entry.due_us > now_us {
            return Vec::new();
        }
        let mut places = vec![first];
        if self.most > 1 && entry.may_be_joined(&alone) {
            places.extend(self.fellows(first, now_us, alone));
            // the order of the plan, so that the same set makes the same request
            places.sort_unstable();
        }
        places
            .into_iter()
            .filter_map(|place| self.entries.get_mut(place)?.ask(now_us))
            .collect()
    }

    /// Those of the same pace that may go along now, the longest due first.
    fn fellows(&self, first: usize, now_us: u64, alone: impl Fn(Pid) -> bool) -> Vec<usize> {
        let Some(period_us) = self.entries.get(first).map(|entry| entry.period_us) else {
            return Vec::new();
        };
        let mut fellows: Vec<(u64, usize)> = self
            .entries
            .iter()
            .enumerate()
            .filter(|(place, entry)| {
                *place != first
                    && entry.period_us == period_us
                    && entry.due_us <= now_us.saturating_add(entry.early_us)
                    && entry.may_be_joined(&alone)
            })
            .map(|(place, entry)| (entry.due_us, place))
            .collect();
        fellows.sort_unstable();
        let places = fellows.into_iter().map(|(_, place)| place);
        places.take(self.most - 1).collect()
    }

    /// Puts a question off to `due_us`, if it stands there later than it would.
    pub fn put_off(&mut self, question: Question, due_us: u64) {
        let entries = self.entries.iter_mut();
        for entry in entries.filter(|entry| entry.question == question) {
            entry.due_us = entry.due_us.max(due_us);
        }
    }

    /// Asks again soon for what was asked and not answered because the link failed.
    pub fn make_due(&mut self, question: Question) {
        let entries = self.entries.iter_mut();
        for entry in entries.filter(|entry| entry.question == question) {
            entry.due_us = 0;
        }
    }
}

impl Entry {
    fn may_be_joined(&self, alone: impl Fn(Pid) -> bool) -> bool {
        matches!(self.question, Question::Current(pid) if !alone(pid))
    }

    fn ask(&mut self, now_us: u64) -> Option<Question> {
        self.due_us = match self.period_us {
            Some(period_us) => now_us.saturating_add(period_us),
            None => NEVER,
        };
        Some(self.question)
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::*;

    fn wanted(pids: &[u8], pace: Pace) -> Vec<Wanted> {
        let current = |pid: &u8| Wanted {
            question: Question::Current(Pid(*pid)),
            pace,
        };
        pids.iter().map(current).collect()
    }

    fn never_alone(_: Pid) -> bool {
        false
    }

    /// Asks for `total_us` over a link that takes `each_us` a request; counts how often each was asked for.
    fn counts(
        schedule: &mut Schedule,
        total_us: u64,
        each_us: u64,
    ) -> (BTreeMap<Question, u32>, u32) {
        let (mut counts, mut requests, mut now_us) = (BTreeMap::new(), 0, 0);
        while now_us < total_us {
            let asked = schedule.take_due(now_us, never_alone);
            if asked.is_empty() {
                now_us = schedule.next_due_us().unwrap_or(total_us);
                continue;
            }
            requests += 1;
            for question in asked {
                *counts.entry(question).or_default() += 1;
            }
            now_us += each_us;
        }
        (counts, requests)
    }

    #[test]
    fn six_at_most_go_into_one_request_in_the_order_of_the_plan() {
        let mut schedule = Schedule::new(
            &wanted(&[6, 12, 4, 16, 13, 3, 7], Pace::Often),
            true,
            Services::SaeJ1979,
            0,
        );
        let asked = schedule.take_due(0, never_alone);
        let expected = [6, 12, 4, 16, 13, 3].map(|pid| Question::Current(Pid(pid)));
        assert_eq!(asked, expected);
        // the one left over, and again those that have waited the longest
        let expected = [6, 12, 4, 16, 13, 7].map(|pid| Question::Current(Pid(pid)));
        assert_eq!(schedule.take_due(0, never_alone), expected);
        assert_eq!(schedule.take_due(0, never_alone), []);
    }

    #[test]
    fn other_buses_and_parameters_that_go_alone_are_asked_one_by_one() {
        let mut kline = Schedule::new(&wanted(&[6, 12], Pace::Often), false, Services::SaeJ1979, 0);
        assert_eq!(kline.take_due(0, never_alone).len(), 1);
        let mut can = Schedule::new(
            &wanted(&[6, 12, 4], Pace::Often),
            true,
            Services::SaeJ1979,
            0,
        );
        let asked = can.take_due(0, |pid| pid == Pid(12));
        assert_eq!(asked, [6, 4].map(|pid| Question::Current(Pid(pid))));
        assert_eq!(
            can.take_due(0, |pid| pid == Pid(12)),
            [Question::Current(Pid(12))]
        );
    }

    // One CAN frame holds three identifiers of two bytes (ISO 14229-1).
    #[test]
    fn newer_cars_are_asked_for_three_at_once() {
        let all = wanted(&[6, 12, 4, 16], Pace::Often);
        let mut schedule = Schedule::new(&all, true, Services::Iso14229, 0);
        let expected = [6, 12, 4].map(|pid| Question::Current(Pid(pid)));
        assert_eq!(schedule.take_due(0, never_alone), expected);
        let expected = [6, 12, 16].map(|pid| Question::Current(Pid(pid)));
        assert_eq!(schedule.take_due(0, never_alone), expected);
    }

    #[test]
    fn a_link_with_time_to_spare_keeps_every_period() {
        let mut all = wanted(&[6, 12], Pace::Often);
        all.extend(wanted(&[5], Pace::Rarely));
        let mut schedule = Schedule::new(&all, true, Services::SaeJ1979, 0);
        let (counts, requests) = counts(&mut schedule, 9_000_000, 1_000);
        // 100 a second for 9 s; every 3 s
        assert_eq!(counts[&Question::Current(Pid(6))], 900);
        assert_eq!(counts[&Question::Current(Pid(5))], 3);
        assert_eq!(requests, 903);
    }

    #[test]
    fn on_a_slow_link_nothing_starves_and_the_trims_come_most_often() {
        let mut all = wanted(&[6, 7, 12, 4, 16, 13, 3], Pace::Often);
        all.extend(wanted(&[17, 14, 46, 68], Pace::Sometimes));
        all.extend(wanted(&[5, 15, 31, 66], Pace::Rarely));
        all.push(Wanted {
            question: Question::StoredCodes,
            pace: Pace::EveryMinute,
        });
        let mut schedule = Schedule::new(&all, false, Services::SaeJ1979, 0);
        let (counts, requests) = counts(&mut schedule, 120_000_000, 150_000);
        assert_eq!(requests, 800);
        let count = |pid| counts[&Question::Current(Pid(pid))];
        assert!(count(6) >= 60, "{counts:?}");
        assert!(count(17) >= 15 && count(6) > 3 * count(17), "{counts:?}");
        // never older than the 10 s that a reading is believed
        assert!(count(5) >= 13, "{counts:?}");
        assert!(counts[&Question::StoredCodes] >= 2);
    }

    #[test]
    fn a_question_asked_once_is_over_unless_the_link_failed() {
        let once = [Wanted {
            question: Question::Information(2),
            pace: Pace::Once,
        }];
        let mut schedule = Schedule::new(&once, true, Services::SaeJ1979, 0);
        assert_eq!(schedule.take_due(5, never_alone).len(), 0);
        assert_eq!(schedule.take_due(TURN_US, never_alone).len(), 1);
        assert_eq!(schedule.next_due_us(), None);
        schedule.make_due(Question::Information(2));
        assert_eq!(schedule.take_due(TURN_US, never_alone).len(), 1);
        schedule.add_once(&[Question::Frozen(Pid(4))]);
        assert_eq!(
            schedule.take_due(7, never_alone),
            [Question::Frozen(Pid(4))]
        );
        schedule.put_off(Question::Frozen(Pid(4)), 9);
        assert_eq!(schedule.next_due_us(), None);
    }
}
