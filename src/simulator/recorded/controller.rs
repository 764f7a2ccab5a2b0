//! One controller of the recorded car: what it answered to which request, and when.

use std::collections::BTreeMap;

use pintle_protocol::{dialogue::Supported, pid::support::is_mask, service::current_data};

use super::{
    answers::Answers,
    request::{ServiceFamily, alike, answer_alone, parts},
};
use crate::simulator::car::diagnostics::support_mask;

/// First byte of a negative answer.
const NEGATIVE: u8 = 0x7F;

/// What one controller answered.
#[derive(Debug, Default)]
pub(super) struct Controller {
    /// To requests for one item or without items, and what cannot be taken apart.
    whole: BTreeMap<Vec<u8>, Answers>,
    /// To requests for several current values.
    joined: BTreeMap<Vec<u8>, Joined>,
    /// Records of single tests of service 06, by monitor and test.
    tests: BTreeMap<[u8; 2], Answers>,
    /// What it has of each family.
    items: BTreeMap<ServiceFamily, Supported>,
    /// The adapter of the recording did not distinguish controllers: messages that came together may be from several.
    pub nameless: bool,
}

#[derive(Debug, Default)]
struct Joined {
    answers: Answers,
    /// The parameters that ever came.
    given: Supported,
}

/// What a controller says, with the time at which it said so.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Statement {
    /// µs of the recording.
    pub t_us: u64,
    /// One message, on the buses before CAN perhaps several.
    pub payloads: Vec<Vec<u8>>,
}

impl Controller {
    /// Takes an answer.
    pub fn add(&mut self, t_us: u64, request: &[u8], response: &[u8]) {
        let parts = parts(request);
        let mut given = Supported::default();
        if !parts.is_empty() {
            let take = |pid: pintle_protocol::Pid, _: &[u8]| given.add(pid.0);
            // what cannot be taken apart is given again as it is
            let _ = current_data::for_each_parameter(request, response, take);
        }
        let came = |item: u8| given.contains(item);
        let known = parts.iter().filter_map(|part| ServiceFamily::of(part));
        let known: Vec<(ServiceFamily, u8)> = known.filter(|(_, item)| came(*item)).collect();
        if known.is_empty() {
            self.add_whole(t_us, request, response);
            return;
        }
        for (family, item) in known {
            self.items.entry(family).or_default().add(item);
        }
        if !self.joined.contains_key(request) {
            self.joined.insert(request.to_vec(), Joined::default());
        }
        if let Some(joined) = self.joined.get_mut(request) {
            joined.answers.push(t_us, response);
            for part in &parts {
                if let Some(item) = part.last().filter(|item| given.contains(**item)) {
                    joined.given.add(*item);
                }
            }
        }
    }

    fn add_whole(&mut self, t_us: u64, request: &[u8], response: &[u8]) {
        if let Some((family, item)) = ServiceFamily::of(request)
            && response.first() != Some(&NEGATIVE)
        {
            self.items.entry(family).or_default().add(item);
        }
        if !self.whole.contains_key(request) {
            self.whole.insert(request.to_vec(), Answers::default());
        }
        if let Some(answers) = self.whole.get_mut(request) {
            answers.push(t_us, response);
        }
    }

    /// Takes the record of one test of service 06 that came without the monitor's other tests.
    pub fn add_test(&mut self, t_us: u64, record: [u8; 9]) {
        let [monitor, test, ..] = record;
        if let Some((family, item)) = ServiceFamily::of(&[0x06, monitor]) {
            self.items.entry(family).or_default().add(item);
        }
        let tests = self.tests.entry([monitor, test]).or_default();
        tests.push(t_us, &record);
    }

    /// How many items it has answered.
    pub fn count(&self) -> usize {
        let items = |supported: &Supported| supported.items().count();
        let others = self
            .whole
            .keys()
            .filter(|key| ServiceFamily::of(key).is_none());
        self.items.values().map(items).sum::<usize>() + others.count()
    }

    /// The newest answer at `t_us` to a request for one item or without items; before its first answer, the first.
    pub fn newest(&self, request: &[u8], t_us: u64, is_can: bool) -> Option<Statement> {
        let whole = self.whole.get(request).and_then(|answers| {
            let number = answers.newest(t_us)?;
            let payloads: Vec<Vec<u8>> = if is_can && !self.nameless {
                vec![answers.payload(number).to_vec()]
            } else {
                answers.together(number).map(<[u8]>::to_vec).collect()
            };
            Some(Statement {
                t_us: answers.time_us(number)?,
                payloads,
            })
        });
        let joined = self
            .joined
            .iter()
            .filter(|(asked, _)| alike(asked, request))
            .filter_map(|(asked, joined)| joined.newest(asked, request, t_us));
        let newer = |said: &Statement| {
            if said.t_us <= t_us {
                i128::from(said.t_us)
            } else {
                -1 - i128::from(said.t_us)
            }
        };
        let said = whole.into_iter().chain(joined).max_by_key(newer);
        said.or_else(|| self.tests_of(request, t_us))
            .or_else(|| self.mask(request, is_can))
    }

    /// All tests of a monitor, each as last reported.
    fn tests_of(&self, request: &[u8], t_us: u64) -> Option<Statement> {
        let [0x06, monitor] = *request else {
            return None;
        };
        let tests = self.tests.range([monitor, 0x00]..=[monitor, 0xFF]);
        let newest: Vec<(&Answers, usize)> = tests
            .filter_map(|(_, answers)| Some((answers, answers.newest(t_us)?)))
            .collect();
        let times = newest.iter().filter_map(|(all, at)| all.time_us(*at));
        let said_us = times.max()?;
        let records = newest.iter().flat_map(|(all, at)| all.payload(*at));
        Some(Statement {
            t_us: said_us,
            payloads: vec![[0x46].into_iter().chain(records.copied()).collect()],
        })
    }

    /// What it has, where it was not asked for that: exactly what it has answered.
    fn mask(&self, request: &[u8], is_can: bool) -> Option<Statement> {
        let (family, base) = ServiceFamily::of(request)?;
        let items = self.items.get(&family).filter(|_| is_mask(base))?;
        let has_more = items.items().any(|item| item > base);
        let mask = support_mask(base, items.items());
        has_more.then(|| Statement {
            t_us: 0,
            payloads: vec![family.mask_answer(base, mask, is_can)],
        })
    }
}

impl Joined {
    /// The newest answer to a request for one of its parameters.
    fn newest(&self, asked: &[u8], request: &[u8], t_us: u64) -> Option<Statement> {
        let item = *request.last()?;
        if !self.given.contains(item) || ServiceFamily::of(request).is_none() {
            return None;
        }
        let newest = self.answers.newest(t_us)?;
        let numbers = (0..=newest).rev().chain(newest..self.answers.len());
        let mut found = numbers.filter_map(|number| {
            let data = self.data(number, asked, item)?;
            Some(Statement {
                t_us: self.answers.time_us(number)?,
                payloads: vec![answer_alone(request, data)],
            })
        });
        found.next()
    }

    fn data(&self, number: usize, asked: &[u8], item: u8) -> Option<&[u8]> {
        let mut found = None;
        let take = |pid: pintle_protocol::Pid, data| {
            if pid.0 == item {
                found = Some(data);
            }
        };
        current_data::for_each_parameter(asked, self.answers.payload(number), take).ok()?;
        found
    }
}
