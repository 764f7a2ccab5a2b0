//! What may be asked of the car: reading, nothing else. There is no value of these types that clears anything.

use pintle_protocol::Pid;

/// How many parameters one request may ask for on CAN (SAE J1979).
pub(super) const MOST_PARAMETERS: usize = 6;

/// One question to the controllers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Question {
    /// Service 01: a current value.
    Current(Pid),
    /// Service 02: a value of freeze frame 0.
    Frozen(Pid),
    /// Service 03: confirmed trouble codes.
    StoredCodes,
    /// Service 06: results of a monitor, on CAN.
    Monitor(u8),
    /// Service 07: pending trouble codes.
    PendingCodes,
    /// Service 09: vehicle information of a type.
    Information(u8),
    /// Service 0A: permanent trouble codes.
    PermanentCodes,
}

impl Question {
    /// The request's bytes.
    pub fn bytes(self) -> Vec<u8> {
        match self {
            Self::Current(pid) => vec![0x01, pid.0],
            Self::Frozen(pid) => vec![0x02, pid.0, 0x00],
            Self::StoredCodes => vec![0x03],
            Self::Monitor(monitor) => vec![0x06, monitor],
            Self::PendingCodes => vec![0x07],
            Self::Information(kind) => vec![0x09, kind],
            Self::PermanentCodes => vec![0x0A],
        }
    }
}

/// A request: one question, or several current values at once.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(super) struct Request(Vec<u8>);

impl Request {
    /// A request for one thing.
    pub fn single(question: Question) -> Self {
        Self(question.bytes())
    }

    /// A request for one thing or for up to six current values; what cannot be asked together is left out. `None`
    /// when there is nothing to ask.
    pub fn of(questions: &[Question]) -> Option<Self> {
        match questions {
            [] => None,
            [question] => Some(Self::single(*question)),
            several => {
                let pids = parameters(several).take(MOST_PARAMETERS).map(|pid| pid.0);
                Some(Self([0x01].into_iter().chain(pids).collect()))
            }
        }
    }

    /// The bytes.
    pub fn bytes(&self) -> &[u8] {
        &self.0
    }
}

/// The parameters among questions for current values.
pub(super) fn parameters(questions: &[Question]) -> impl Iterator<Item = Pid> + '_ {
    questions.iter().filter_map(|question| match question {
        Question::Current(pid) => Some(*pid),
        _ => None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    // SAE J1979: services 01, 02, 03, 06, 07, 09 and 0A read; 04 clears.
    #[test]
    fn every_question_is_of_a_reading_service() {
        let pid = Pid(0x04);
        for (question, bytes) in [
            (Question::Current(pid), &[0x01, 0x04][..]),
            (Question::Frozen(pid), &[0x02, 0x04, 0x00]),
            (Question::StoredCodes, &[0x03]),
            (Question::Monitor(0x04), &[0x06, 0x04]),
            (Question::PendingCodes, &[0x07]),
            (Question::Information(0x04), &[0x09, 0x04]),
            (Question::PermanentCodes, &[0x0A]),
        ] {
            assert_eq!(Request::single(question).bytes(), bytes);
        }
        let many: Vec<Question> = (4..20).map(|pid| Question::Current(Pid(pid))).collect();
        let request = Request::of(&many).unwrap();
        assert_eq!(request.bytes(), [1, 4, 5, 6, 7, 8, 9]);
        assert_eq!(Request::of(&[]), None);
    }
}
