//! What to ask next: the question with the earliest deadline, with its fellows where they fit into the same request. While
//! nothing is due, what is wanted as often as possible is asked ahead of its time.

use std::collections::BTreeMap;

use pintle_protocol::{Pid, service::Services};

use super::{plan::Wanted, question::Question};

/// Between one question that needs a request of its own and the next, at the beginning, µs.
const TURN_US: u64 = 100_000;

/// On buses before CAN: between one question that needs a request of its own and the next, at the beginning, µs.
const SLOW_TURN_US: u64 = 1_000_000;

/// What is asked for as often as possible is left alone for so long, µs: it would not have changed.
const AT_LEAST_US: u64 = 5_000;

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
    /// From when on it may be asked if nothing is due.
    free_us: u64,
    as_often_as_possible: bool,
}

impl Schedule {
    /// Everything wanted, due from now on; what needs requests of its own comes one after the other, so that the trims
    /// do not have to wait for all of it. On other buses than CAN nothing is asked together.
    pub fn new(wanted: &[Wanted], is_can: bool, services: Services, now_us: u64) -> Self {
        let (mut turn, mut places) = (0, BTreeMap::new());
        let of_period = |period_us: Option<u64>| {
            let same = |wanted: &&Wanted| wanted.pace.period_us(is_can) == period_us;
            wanted.iter().filter(same).count().max(1) as u64
        };
        let entry = |wanted: &Wanted| {
            if !matches!(wanted.question, Question::Current(_)) {
                turn += 1;
            }
            let period_us = wanted.pace.period_us(is_can);
            let first_us = match wanted.question {
                Question::Current(_) if is_can || wanted.pace.is_as_often_as_possible() => now_us,
                // one after the other over their period, so that they do not come all at once ever after
                Question::Current(_) => {
                    let place = places.entry(period_us).or_insert(0_u64);
                    *place += 1;
                    let part_us = period_us.unwrap_or(0) / of_period(period_us);
                    now_us.saturating_add((*place - 1) * part_us)
                }
                _ if is_can => now_us.saturating_add(turn * TURN_US),
                _ => now_us.saturating_add(turn * SLOW_TURN_US),
            };
            Entry {
                question: wanted.question,
                period_us,
                // a place in a request that is left costs more than one that is filled
                early_us: if wanted.pace.is_as_often_as_possible() {
                    NEVER
                } else {
                    period_us.unwrap_or(0) / 2
                },
                due_us: first_us,
                free_us: first_us,
                as_often_as_possible: wanted.pace.is_as_often_as_possible(),
            }
        };
        Self {
            entries: wanted.iter().map(entry).collect(),
            most: if is_can {
                services.most_parameters()
            } else {
                1
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
            free_us: 0,
            as_often_as_possible: false,
        };
        self.entries.extend(questions.iter().map(entry));
    }

    /// When the next question can be asked, µs.
    pub fn next_due_us(&self) -> Option<u64> {
        let due = self.entries.iter().map(|entry| entry.free_us).min()?;
        (due != NEVER).then_some(due)
    }

    /// The questions to ask now in one request; none if nothing is due. They are taken as asked. `alone` tells which
    /// parameters this car answers only when they are asked by themselves.
    pub fn take_due(&mut self, now_us: u64, alone: impl Fn(Pid) -> bool) -> Vec<Question> {
        let free = self.entries.iter().enumerate();
        let free = free.filter(|(_, entry)| entry.free_us <= now_us);
        let Some((first, entry)) = free.min_by_key(|(_, entry)| entry.due_us) else {
            return Vec::new();
        };
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
            entry.free_us = entry.free_us.max(due_us);
        }
    }

    /// Asks again soon for what was asked and not answered because the link failed.
    pub fn make_due(&mut self, question: Question) {
        let entries = self.entries.iter_mut();
        for entry in entries.filter(|entry| entry.question == question) {
            (entry.due_us, entry.free_us) = (0, 0);
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
        self.free_us = if self.as_often_as_possible {
            now_us.saturating_add(AT_LEAST_US).min(self.due_us)
        } else {
            self.due_us
        };
        Some(self.question)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::link::plan::Pace;

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
        // 200 a second for 9 s; every 3 s
        assert_eq!(counts[&Question::Current(Pid(6))], 1800);
        assert_eq!(counts[&Question::Current(Pid(5))], 3);
        assert_eq!(requests, 1803);
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

    /// A K-line car with 200 ms a request: short trims, engine speed and load every second or two, nothing older than the
    /// 10 s that a reading is believed.
    #[test]
    fn five_answers_a_second_bring_trims_speed_and_load_every_second_or_two() {
        let mut all = wanted(&[0x06, 0x0C, 0x04], Pace::Foremost);
        all.extend(wanted(&[0x10, 0x0D, 0x03, 0x07], Pace::Often));
        all.extend(wanted(
            &[0x11, 0x0E, 0x14, 0x15, 0x2E, 0x44],
            Pace::Sometimes,
        ));
        all.extend(wanted(
            &[0x05, 0x0F, 0x1F, 0x42, 0x33, 0x2F, 0x30, 0x31, 0x4E, 0x21],
            Pace::Rarely,
        ));
        let mut schedule = Schedule::new(&all, false, Services::SaeJ1979, 0);
        for (question, longest_us) in longest_gaps(&mut schedule, 120_000_000, 200_000) {
            let Question::Current(Pid(pid)) = question else {
                unreachable!()
            };
            let allowed_us = match pid {
                0x06 | 0x0C | 0x04 => 2_200_000,
                _ => 10_000_000,
            };
            assert!(longest_us <= allowed_us, "{pid:02X}: {longest_us}");
        }
    }

    /// Asks over a link that takes `each_us` a request; gives the longest time between two requests of each question.
    fn longest_gaps(
        schedule: &mut Schedule,
        total_us: u64,
        each_us: u64,
    ) -> BTreeMap<Question, u64> {
        let (mut last, mut longest, mut now_us) = (BTreeMap::new(), BTreeMap::new(), 0);
        while now_us < total_us {
            let asked = schedule.take_due(now_us, never_alone);
            if asked.is_empty() {
                now_us = schedule.next_due_us().unwrap_or(total_us).max(now_us + 1);
                continue;
            }
            for question in asked {
                let gap_us = now_us - last.insert(question, now_us).unwrap_or(0);
                let longest_us: &mut u64 = longest.entry(question).or_default();
                *longest_us = gap_us.max(*longest_us);
            }
            now_us += each_us;
        }
        for (question, asked_us) in last {
            let longest_us = longest.entry(question).or_default();
            *longest_us = (*longest_us).max(total_us.saturating_sub(asked_us));
        }
        longest
    }

    proptest::proptest! {
        /// Once a question is due, every other can be asked at most once before it, since that puts the other's next time
        /// behind.
        #[test]
        fn no_question_waits_for_longer_than_one_turn_of_all_others(
            paces in proptest::collection::vec(0..4_u8, 1..40),
            each_us in 1_000..400_000_u64,
            is_can: bool,
        ) {
            let pace = |number: u8| match number {
                0 => Pace::Foremost,
                1 => Pace::Often,
                2 => Pace::Sometimes,
                _ => Pace::Rarely,
            };
            let all: Vec<Wanted> = (1..).zip(&paces).map(|(pid, number)| Wanted {
                question: Question::Current(Pid(pid)),
                pace: pace(*number),
            }).collect();
            let mut schedule = Schedule::new(&all, is_can, Services::SaeJ1979, 0);
            let gaps = longest_gaps(&mut schedule, 60_000_000, each_us);
            proptest::prop_assert_eq!(gaps.len(), all.len());
            for wanted in &all {
                let period_us = wanted.pace.period_us(is_can).unwrap();
                let allowed_us = period_us + (all.len() as u64 + 1) * each_us;
                proptest::prop_assert!(gaps[&wanted.question] <= allowed_us, "{:?}", wanted);
            }
        }
    }

    /// Ten questions that together could be asked 14 times a second, on a link for 30.
    #[test]
    fn time_to_spare_goes_to_what_is_wanted_as_often_as_possible() {
        let mut all = wanted(&[6, 12, 4], Pace::Foremost);
        all.extend(wanted(&[5], Pace::Rarely));
        let mut schedule = Schedule::new(&all, false, Services::SaeJ1979, 0);
        let (counts, requests) = counts(&mut schedule, 70_000_000, 33_000);
        assert!(requests > 2100, "{requests}");
        assert_eq!(counts[&Question::Current(Pid(5))], 10);
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
