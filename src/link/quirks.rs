//! What this car really answers: which parameters must be asked for alone, what never comes, how many lines to expect.

use std::collections::{BTreeMap, HashMap, HashSet};

use pintle_protocol::{
    Address, Pid,
    dialogue::{Answer, NoAnswer, Why},
    service::current_data,
};

use super::question::{Question, Request, parameters};

/// So many times in a row a parameter may be left out of a joined answer before it is asked for alone.
const LEFT_OUT: u8 = 2;

/// After so many answers of its own it is tried once more whether it comes with others: a disturbance may have passed.
/// Each time in vain doubles the number.
const TRY_JOINED: u32 = 250;

/// So many times in a row a question may stay without an answer before it is asked only now and then.
const UNANSWERED: u8 = 3;

/// After so many uses the number of expected lines is learned anew: a controller may have been late the first time.
const LINES_USES: u32 = 200;

/// What was learned about one car.
#[derive(Debug, Default)]
pub(super) struct CarQuirks {
    left_out: BTreeMap<Pid, LeftOut>,
    unanswered: BTreeMap<Question, u8>,
    lines: HashMap<Request, Lines>,
    /// Requests that were made once: what they should bring is no longer guessed.
    made: HashSet<Request>,
}

/// How a parameter does in joined requests.
#[derive(Debug)]
struct LeftOut {
    times: u8,
    answers_alone: u32,
    try_after: u32,
}

#[derive(Debug)]
struct Lines {
    count: u8,
    uses: u32,
}

impl CarQuirks {
    /// Whether the parameter is answered only when it is asked for by itself.
    pub fn goes_alone(&self, pid: Pid) -> bool {
        self.left_out
            .get(&pid)
            .is_some_and(|left_out| left_out.times >= LEFT_OUT)
    }

    /// Whether the question has stayed without an answer so often that it is not worth asking at its pace.
    pub fn is_given_up(&self, question: Question) -> bool {
        let times = self.unanswered.get(&question);
        times.is_some_and(|times| *times >= UNANSWERED)
    }

    /// How many lines the answer will take (1 to 15), if that is known: the adapter need not wait for more. Of a request
    /// that was never made before it is what it should be.
    pub fn expected_lines(
        &mut self,
        request: &Request,
        should_be: impl FnOnce() -> Option<u8>,
    ) -> Option<u8> {
        if self.made.insert(request.clone()) {
            return should_be();
        }
        let lines = self.lines.get_mut(request)?;
        lines.uses += 1;
        if lines.uses > LINES_USES {
            self.lines.remove(request);
            return None;
        }
        Some(lines.count)
    }

    /// Takes an answer to a request for these questions. What counts is what the engine controller said.
    pub fn take_answer(
        &mut self,
        request: &Request,
        questions: &[Question],
        answer: &Answer,
        engine: Option<Address>,
    ) {
        let mut messages = answer.messages.iter();
        let Some(message) = messages.find(|message| message.from == engine) else {
            self.lines.remove(request);
            return self.strike(questions);
        };
        self.take_lines(request, answer);
        if questions.len() > 1 {
            // an answer that cannot be taken apart gives none of them
            let mut given = Vec::new();
            let take = |pid, _: &[u8]| given.push(pid);
            let _ = current_data::for_each_parameter(request.bytes(), &message.payload, take);
            given.iter().for_each(|pid| {
                self.left_out.remove(pid);
            });
            self.leave_out(parameters(questions).filter(|pid| !given.contains(pid)));
        } else {
            questions.iter().for_each(|question| {
                self.unanswered.remove(question);
            });
            parameters(questions).for_each(|pid| self.came_alone(pid));
        }
    }

    fn take_lines(&mut self, request: &Request, answer: &Answer) {
        match u8::try_from(answer.lines) {
            Ok(count @ 1..=15) if answer.damaged == 0 => {
                let lines = self.lines.entry(request.clone());
                lines.or_insert(Lines { count, uses: 0 }).count = count;
            }
            _ => {
                self.lines.remove(request);
            }
        }
    }

    /// Takes the end of a request without an answer, at a time when the car answers other requests.
    pub fn take_no_answer(
        &mut self,
        request: &Request,
        questions: &[Question],
        no_answer: &NoAnswer,
    ) {
        self.lines.remove(request);
        match no_answer.why {
            Why::LinkLost => {}
            // too much at once for the adapter's memory, perhaps
            Why::Damaged(_) if questions.len() == 1 => {}
            Why::StillPending | Why::Damaged(_) | Why::Adapter(_) | Why::Refused(_) => {
                self.strike(questions);
            }
        }
    }

    fn strike(&mut self, questions: &[Question]) {
        match questions {
            [question] => {
                let times = self.unanswered.entry(*question).or_default();
                *times = times.saturating_add(1);
            }
            joined => self.leave_out(parameters(joined)),
        }
    }

    fn leave_out(&mut self, pids: impl Iterator<Item = Pid>) {
        for pid in pids {
            let left_out = self.left_out.entry(pid).or_insert(LeftOut {
                times: 0,
                answers_alone: 0,
                try_after: TRY_JOINED,
            });
            left_out.times = left_out.times.saturating_add(1);
        }
    }

    fn came_alone(&mut self, pid: Pid) {
        let Some(left_out) = self.left_out.get_mut(&pid) else {
            return;
        };
        left_out.answers_alone += 1;
        if left_out.answers_alone > left_out.try_after {
            left_out.answers_alone = 0;
            left_out.try_after = left_out.try_after.saturating_mul(2);
            left_out.times = LEFT_OUT - 1;
        }
    }
}

#[cfg(test)]
mod tests {
    use pintle_protocol::{adapter::Notice, bus::Message, service::Services};

    use super::*;

    /// The engine controller on an 11-bit CAN bus (ISO 15765-4).
    const ENGINE: Option<Address> = Some(Address::Can11(0x7E8));

    fn current(pids: &[u8]) -> (Request, Vec<Question>) {
        let question = |pid: &u8| Question::Current(Pid(*pid));
        let questions: Vec<Question> = pids.iter().map(question).collect();
        (
            Request::of(&questions, Services::SaeJ1979).unwrap(),
            questions,
        )
    }

    fn answer(payload: &[u8], lines: usize) -> Answer {
        Answer {
            request: Vec::new(),
            messages: vec![Message {
                from: ENGINE,
                payload: payload.to_vec(),
            }],
            refusals: Vec::new(),
            damaged: 0,
            lines,
            asked_at_us: 0,
            answered_at_us: 0,
        }
    }

    fn no_answer(why: Why) -> NoAnswer {
        NoAnswer {
            request: Vec::new(),
            why,
            asked_at_us: 0,
            ended_at_us: 0,
        }
    }

    // SAE J1979: engine speed two bytes, load and vehicle speed one.
    #[test]
    fn what_is_left_out_of_joined_answers_goes_alone() {
        let mut quirks = CarQuirks::default();
        let (request, questions) = current(&[0x0C, 0x04, 0x0D]);
        for _ in 0..2 {
            assert!(!quirks.goes_alone(Pid(0x04)));
            let partly = answer(&[0x41, 0x0C, 0x0B, 0xB8, 0x0D, 0x00], 1);
            quirks.take_answer(&request, &questions, &partly, ENGINE);
        }
        assert!(quirks.goes_alone(Pid(0x04)));
        assert!(!quirks.goes_alone(Pid(0x0C)) && !quirks.goes_alone(Pid(0x0D)));
    }

    #[test]
    fn what_goes_alone_is_tried_joined_again_after_a_while() {
        let mut quirks = CarQuirks::default();
        let (both, questions) = current(&[0x0C, 0x04]);
        let (alone, question) = current(&[0x04]);
        let damaged = || no_answer(Why::Damaged(String::new()));
        // now and then a damaged answer, with good ones in between, changes nothing
        for _ in 0..9 {
            quirks.take_no_answer(&both, &questions, &damaged());
            let good = answer(&[0x41, 0x0C, 0, 0, 0x04, 0], 1);
            quirks.take_answer(&both, &questions, &good, ENGINE);
        }
        assert!(!quirks.goes_alone(Pid(0x04)));
        let mut until_tried = Vec::new();
        for _ in 0..2 {
            while !quirks.goes_alone(Pid(0x04)) {
                quirks.take_no_answer(&both, &questions, &damaged());
            }
            let mut answers = 0;
            while quirks.goes_alone(Pid(0x04)) {
                answers += 1;
                quirks.take_answer(&alone, &question, &answer(&[0x41, 0x04, 0], 1), ENGINE);
            }
            until_tried.push(answers);
        }
        assert_eq!(until_tried, [251, 501]);
    }

    // ISO 14229-1: the same by identifiers of two bytes.
    #[test]
    fn what_a_newer_car_leaves_out_goes_alone_too() {
        let mut quirks = CarQuirks::default();
        let (_, questions) = current(&[0x0C, 0x04, 0x0D]);
        let request = Request::of(&questions, Services::Iso14229).unwrap();
        for _ in 0..2 {
            assert!(!quirks.goes_alone(Pid(0x04)));
            let partly = answer(&[0x62, 0xF4, 0x0C, 0x0B, 0xB8, 0xF4, 0x0D, 0x00], 2);
            quirks.take_answer(&request, &questions, &partly, ENGINE);
        }
        assert!(quirks.goes_alone(Pid(0x04)));
        assert!(!quirks.goes_alone(Pid(0x0C)) && !quirks.goes_alone(Pid(0x0D)));
    }

    #[test]
    fn parameters_of_an_answer_that_cannot_be_taken_apart_go_alone() {
        let mut quirks = CarQuirks::default();
        let (request, questions) = current(&[0x0C, 0x04]);
        for _ in 0..2 {
            quirks.take_answer(
                &request,
                &questions,
                &answer(&[0x41, 0x0C, 0x0B], 1),
                ENGINE,
            );
        }
        assert!(quirks.goes_alone(Pid(0x0C)) && quirks.goes_alone(Pid(0x04)));
    }

    #[test]
    fn a_car_that_refuses_joined_requests_is_asked_one_by_one() {
        let mut quirks = CarQuirks::default();
        let (request, questions) = current(&[0x0C, 0x04]);
        for _ in 0..2 {
            quirks.take_no_answer(&request, &questions, &no_answer(Why::Refused(Vec::new())));
        }
        assert!(quirks.goes_alone(Pid(0x0C)) && quirks.goes_alone(Pid(0x04)));
    }

    #[test]
    fn what_never_answers_is_given_up_until_it_does() {
        let mut quirks = CarQuirks::default();
        let (request, questions) = current(&[0x2E]);
        let question = Question::Current(Pid(0x2E));
        for _ in 0..3 {
            assert!(!quirks.is_given_up(question));
            quirks.take_no_answer(
                &request,
                &questions,
                &no_answer(Why::Adapter(Notice::NoData)),
            );
        }
        assert!(quirks.is_given_up(question));
        quirks.take_answer(&request, &questions, &answer(&[0x41, 0x2E, 0], 1), ENGINE);
        assert!(!quirks.is_given_up(question));
        for _ in 0..9 {
            quirks.take_no_answer(&request, &questions, &no_answer(Why::LinkLost));
        }
        assert!(!quirks.is_given_up(question));
    }

    #[test]
    fn the_number_of_lines_is_learned_and_now_and_then_doubted() {
        let mut quirks = CarQuirks::default();
        let (request, questions) = current(&[0x0C]);
        assert_eq!(quirks.expected_lines(&request, || Some(3)), Some(3));
        // once it was made, only what came counts
        assert_eq!(quirks.expected_lines(&request, || Some(3)), None);
        let whole = answer(&[0x41, 0x0C, 0, 0], 2);
        quirks.take_answer(&request, &questions, &whole, ENGINE);
        let known = (0..1000).take_while(|_| quirks.expected_lines(&request, || None) == Some(2));
        assert_eq!(known.count(), 200);
        quirks.take_answer(&request, &questions, &whole, ENGINE);
        assert_eq!(quirks.expected_lines(&request, || None), Some(2));
        // only another controller was heard: the number was too small
        quirks.take_answer(&request, &questions, &whole, Some(Address::Can11(0x7E9)));
        assert_eq!(quirks.expected_lines(&request, || None), None);
        quirks.take_answer(
            &request,
            &questions,
            &answer(&[0x41, 0x0C, 0, 0], 16),
            ENGINE,
        );
        assert_eq!(quirks.expected_lines(&request, || None), None);
    }
}
