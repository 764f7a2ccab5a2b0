//! Chooses request after request and learns from how each ends; knows no port and no clock.

use pintle_protocol::{
    Address, Pid,
    dialogue::{Answer, Connection, Controller, NoAnswer, Why},
    service::{
        CodeList, Services,
        answer::{self, Answer as Meaning},
    },
};

use super::{
    answer_lines,
    plan::{self, Wanted},
    question::{Question, Request},
    quirks::CarQuirks,
    schedule::Schedule,
};

/// After so many requests in a row without an answer it is tried whether the car answers at all.
const SILENT_REQUESTS: u32 = 2;

/// How often a silent car is tried, µs.
const TRY_EVERY_US: u64 = 1_000_000;

/// How often something is asked for that never came, µs.
const GIVEN_UP_US: u64 = 60_000_000;

/// What is tried on a silent car: every engine controller has it.
const TRIAL: Question = Question::Current(Pid::ENGINE_SPEED);

/// Of so many codes the freeze frames of newer cars are asked for.
const MOST_SNAPSHOTS: usize = 8;

/// The questions of a recording and what has become of them.
#[derive(Debug)]
pub(super) struct Poller {
    schedule: Schedule,
    quirks: CarQuirks,
    engine: Option<Address>,
    controllers: Vec<Controller>,
    is_can: bool,
    services: Services,
    frozen: Vec<Pid>,
    /// Code whose freeze frame was asked for; a graver one may take its place.
    frozen_code: Option<[u8; 2]>,
    /// Codes whose snapshots were asked for.
    snapshots: Vec<[u8; 3]>,
    asking: Option<(Request, Vec<Question>)>,
    silent_requests: u32,
    next_trial_us: u64,
}

impl Poller {
    /// A poller for what is wanted of this car from now on.
    pub fn new(wanted: &[Wanted], connection: &Connection, now_us: u64) -> Self {
        let engine = connection.engine();
        Self {
            schedule: Schedule::new(
                wanted,
                connection.protocol.is_can(),
                connection.services,
                now_us,
            ),
            quirks: CarQuirks::default(),
            engine: engine.and_then(|engine| engine.address),
            controllers: connection.controllers.clone(),
            is_can: connection.protocol.is_can(),
            services: connection.services,
            frozen: engine.map(plan::frozen_parameters).unwrap_or_default(),
            frozen_code: None,
            snapshots: Vec::new(),
            asking: None,
            silent_requests: 0,
            next_trial_us: 0,
        }
    }

    /// Whether a request is in the air.
    pub const fn is_asking(&self) -> bool {
        self.asking.is_some()
    }

    /// When the next request is due, µs.
    pub fn next_due_us(&self) -> Option<u64> {
        if self.is_silent() {
            Some(self.next_trial_us)
        } else {
            self.schedule.next_due_us()
        }
    }

    /// The next request, if one is due, with the number of lines to expect. It is taken as made.
    pub fn next(&mut self, now_us: u64) -> Option<(Request, Option<u8>)> {
        let questions = match self.is_silent() {
            true if now_us < self.next_trial_us => return None,
            true => vec![TRIAL],
            false => self
                .schedule
                .take_due(now_us, |pid| self.quirks.goes_alone(pid)),
        };
        let request = Request::of(&questions, self.services)?;
        let should_be =
            || answer_lines::of_current(request.bytes(), &self.controllers, self.is_can);
        let lines = self.quirks.expected_lines(&request, should_be);
        if self.is_silent() {
            self.next_trial_us = now_us.saturating_add(TRY_EVERY_US);
        }
        self.asking = Some((request.clone(), questions));
        Some((request, lines))
    }

    /// The request in the air was answered.
    pub fn on_answer(&mut self, answer: &Answer) {
        self.silent_requests = 0;
        self.next_trial_us = 0;
        if let Some((request, questions)) = self.asking.take() {
            self.quirks
                .take_answer(&request, &questions, answer, self.engine);
        }
        let messages = &answer.messages;
        let code = messages
            .iter()
            .find_map(|message| frozen_code(&message.payload));
        if code.is_some() && code != self.frozen_code {
            self.frozen_code = code;
            let pids = self.frozen.iter().copied();
            let questions: Vec<Question> = pids.map(Question::Frozen).collect();
            self.schedule.add_once(&questions);
        }
        if self.services == Services::Iso14229 {
            self.ask_for_snapshots(answer);
        }
    }

    /// Asks once for what was noted down with each stored code that an answer names.
    fn ask_for_snapshots(&mut self, answer: &Answer) {
        for message in &answer.messages {
            let Ok(Meaning::Codes {
                list: CodeList::Stored,
                codes,
            }) = answer::decode(&answer.request, &message.payload)
            else {
                continue;
            };
            for code in codes.into_iter().map(|code| code.bytes()) {
                if self.snapshots.len() < MOST_SNAPSHOTS && !self.snapshots.contains(&code) {
                    self.snapshots.push(code);
                    self.schedule.add_once(&[Question::Snapshots(code)]);
                }
            }
        }
    }

    /// The request in the air was not answered. A car that answers nothing teaches nothing about single questions.
    pub fn on_no_answer(&mut self, no_answer: &NoAnswer) {
        let Some((request, questions)) = self.asking.take() else {
            return;
        };
        match &no_answer.why {
            Why::Adapter(notice) if notice.is_silent_car() => self.silent_requests += 1,
            Why::StillPending => self.silent_requests += 1,
            Why::LinkLost => return self.ask_again(&questions),
            _ => self.silent_requests = 0,
        }
        if self.silent_requests > 1 {
            return self.ask_again(&questions);
        }
        self.quirks.take_no_answer(&request, &questions, no_answer);
        for question in questions {
            if self.quirks.is_given_up(question) {
                let later_us = no_answer.ended_at_us.saturating_add(GIVEN_UP_US);
                self.schedule.put_off(question, later_us);
            }
        }
    }

    fn ask_again(&mut self, questions: &[Question]) {
        for question in questions {
            self.schedule.make_due(*question);
        }
    }

    const fn is_silent(&self) -> bool {
        self.silent_requests >= SILENT_REQUESTS
    }
}

/// The code of a freeze frame, in the answer that names it (service 02, parameter 02); `00 00` means none.
fn frozen_code(payload: &[u8]) -> Option<[u8; 2]> {
    match payload {
        [0x42, 0x02, _, 0, 0] => None,
        [0x42, 0x02, _, high, low] => Some([*high, *low]),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use pintle_protocol::{
        adapter::Notice,
        bus::{Framing, Message, Protocol},
        dialogue::{AdapterInfo, Controller, Supported},
        service::Services,
    };

    use super::*;
    use crate::link::plan::Pace;

    /// The engine controller on an 11-bit CAN bus (ISO 15765-4).
    const ENGINE: Address = Address::Can11(0x7E8);

    /// When everything that needs a request of its own has become due, µs.
    const SOON_US: u64 = 1_000_000;

    fn connection(parameters: &[u8]) -> Connection {
        let mut supported = Supported::default();
        parameters.iter().for_each(|pid| supported.add(*pid));
        Connection {
            adapter: AdapterInfo::default(),
            voltage: None,
            protocol: Protocol::Unnamed(Framing::Can11),
            services: Services::SaeJ1979,
            controllers: vec![Controller {
                address: Some(ENGINE),
                parameters: supported,
                monitors: Supported::default(),
                information: Supported::default(),
            }],
        }
    }

    fn poller(questions: &[Question], pace: Pace) -> Poller {
        let wanted = |question: &Question| Wanted {
            question: *question,
            pace,
        };
        let wanted: Vec<Wanted> = questions.iter().map(wanted).collect();
        Poller::new(&wanted, &connection(&[0x04, 0x05, 0x0C]), 0)
    }

    fn asked(poller: &mut Poller, now_us: u64) -> Option<Vec<u8>> {
        poller
            .next(now_us)
            .map(|(request, _)| request.bytes().to_vec())
    }

    fn answer(payload: &[u8]) -> Answer {
        Answer {
            request: Vec::new(),
            messages: vec![Message {
                from: Some(ENGINE),
                payload: payload.to_vec(),
            }],
            refusals: Vec::new(),
            damaged: 0,
            lines: 1,
            asked_at_us: 0,
            answered_at_us: 0,
        }
    }

    fn no_data(ended_at_us: u64) -> NoAnswer {
        NoAnswer {
            request: Vec::new(),
            why: Why::Adapter(Notice::NoData),
            asked_at_us: 0,
            ended_at_us,
        }
    }

    #[test]
    fn a_silent_car_is_tried_once_a_second_until_it_answers() {
        let questions = [Question::StoredCodes, Question::PendingCodes];
        let mut poller = poller(&questions, Pace::EveryMinute);
        for request in [0x03, 0x07] {
            assert_eq!(asked(&mut poller, SOON_US), Some(vec![request]));
            poller.on_no_answer(&no_data(SOON_US));
        }
        assert_eq!(asked(&mut poller, 2_000_000), Some(vec![0x01, 0x0C]));
        poller.on_no_answer(&no_data(2_000_020));
        assert_eq!(asked(&mut poller, 2_500_000), None);
        assert_eq!(poller.next_due_us(), Some(3_000_000));
        assert_eq!(asked(&mut poller, 3_000_000), Some(vec![0x01, 0x0C]));
        poller.on_answer(&answer(&[0x41, 0x0C, 0, 0]));
        // what was asked in vain meanwhile comes first
        assert_eq!(asked(&mut poller, 3_100_000), Some(vec![0x07]));
    }

    #[test]
    fn what_never_comes_is_put_off_and_the_rest_goes_on() {
        let question = Question::Current(Pid(0x05));
        let mut poller = poller(&[question], Pace::Rarely);
        let mut now_us = 0;
        for _ in 0..3 {
            assert_eq!(asked(&mut poller, now_us), Some(vec![0x01, 0x05]));
            poller.on_no_answer(&no_data(now_us));
            // something else is answered
            poller.on_answer(&answer(&[0x43, 0]));
            now_us += 3_000_000;
        }
        assert_eq!(poller.next_due_us(), Some(6_000_000 + GIVEN_UP_US));
    }

    // SAE J1979: service 02, parameter 02 names the code that stored the frame, 00 00 if none did.
    #[test]
    fn a_freeze_frame_is_read_when_there_is_one() {
        let question = Question::Frozen(plan::FROZEN_CODE);
        let mut none = poller(&[question], Pace::Once);
        assert_eq!(asked(&mut none, SOON_US), Some(vec![0x02, 0x02, 0x00]));
        none.on_answer(&answer(&[0x42, 0x02, 0x00, 0, 0]));
        assert_eq!(asked(&mut none, SOON_US), None);
        let mut some = poller(&[question], Pace::Once);
        some.next(SOON_US);
        some.on_answer(&answer(&[0x42, 0x02, 0x00, 0x03, 0x03]));
        for pid in [0x04, 0x05, 0x0C] {
            assert_eq!(asked(&mut some, SOON_US), Some(vec![0x02, pid, 0x00]));
        }
        assert_eq!(asked(&mut some, SOON_US), None);
    }

    // SAE J1979: the frame of a code that is stored later is read then, and that of a graver one that takes its place.
    #[test]
    fn a_freeze_frame_that_is_stored_meanwhile_is_read() {
        let mut poller = poller(&[Question::Frozen(plan::FROZEN_CODE)], Pace::EveryMinute);
        let mut now_us = SOON_US;
        for (code, read) in [
            ([0, 0], false),
            ([0x01, 0x74], true),
            ([0x01, 0x74], false),
            ([0x03, 0x03], true),
        ] {
            assert_eq!(asked(&mut poller, now_us), Some(vec![0x02, 0x02, 0x00]));
            poller.on_answer(&answer(&[0x42, 0x02, 0x00, code[0], code[1]]));
            for pid in [0x04, 0x05, 0x0C] {
                if read {
                    assert_eq!(asked(&mut poller, now_us), Some(vec![0x02, pid, 0x00]));
                    poller.on_answer(&answer(&[0x42, pid, 0x00, 0x40]));
                }
            }
            assert_eq!(asked(&mut poller, now_us), None);
            now_us += 61_000_000;
        }
    }

    // ISO 14229-1: confirmed codes with severity and status; 19 04 asks for what was noted down with one.
    #[test]
    fn the_freeze_frame_of_each_stored_code_of_a_newer_car_is_read_once() {
        let wanted = [Wanted {
            question: Question::StoredCodes,
            pace: Pace::EveryMinute,
        }];
        let newer = Connection {
            services: Services::Iso14229,
            ..connection(&[0x0C])
        };
        let mut poller = Poller::new(&wanted, &newer, 0);
        let request = vec![0x19, 0x42, 0x33, 0x08, 0x1E];
        let stored = Answer {
            request: request.clone(),
            ..answer(&[
                0x59, 0x42, 0x33, 0xFF, 0x1E, 0x04, 2, 3, 3, 0, 0x2F, 2, 1, 0x71, 0, 0x2F,
            ])
        };
        assert_eq!(asked(&mut poller, SOON_US), Some(request.clone()));
        poller.on_answer(&stored);
        for code in [[0x03, 0x03], [0x01, 0x71]] {
            let expected = [&[0x19, 0x04][..], &code, &[0x00, 0xFF]].concat();
            assert_eq!(asked(&mut poller, SOON_US), Some(expected));
            poller.on_answer(&answer(&[0x59, 0x04, code[0], code[1], 0, 0x2F]));
        }
        assert_eq!(asked(&mut poller, SOON_US), None);
        assert_eq!(asked(&mut poller, 70_000_000), Some(request));
        poller.on_answer(&stored);
        assert_eq!(asked(&mut poller, 70_000_000), None);
    }

    #[test]
    fn a_request_cut_off_by_a_lost_link_is_made_again() {
        let mut poller = poller(&[Question::Information(2)], Pace::Once);
        assert_eq!(asked(&mut poller, SOON_US), Some(vec![0x09, 2]));
        assert!(poller.is_asking());
        poller.on_no_answer(&NoAnswer {
            why: Why::LinkLost,
            ..no_data(SOON_US)
        });
        assert!(!poller.is_asking());
        assert_eq!(asked(&mut poller, SOON_US), Some(vec![0x09, 2]));
    }
}
