//! What may be asked of the car: reading, nothing else. There is no value of these types that clears anything.

use pintle_protocol::{
    Pid,
    service::{self, Services},
};

/// One question to the controllers, whatever services they answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Question {
    /// A current value.
    Current(Pid),
    /// A value of freeze frame 0 (SAE J1979).
    Frozen(Pid),
    /// All that was noted down when a code was stored (ISO 14229); the code by its three bytes.
    Snapshots([u8; 3]),
    /// Confirmed trouble codes.
    StoredCodes,
    /// Results of a monitor, on CAN.
    Monitor(u8),
    /// Pending trouble codes.
    PendingCodes,
    /// Vehicle information of a type.
    Information(u8),
    /// Permanent trouble codes.
    PermanentCodes,
}

impl From<Question> for service::Request {
    fn from(question: Question) -> Self {
        match question {
            Question::Current(pid) => Self::Current(vec![pid]),
            Question::Frozen(pid) => Self::FreezeFrame { pid, frame: 0 },
            Question::Snapshots(code) => Self::Snapshots(code),
            Question::StoredCodes => Self::StoredCodes,
            Question::Monitor(monitor) => Self::Monitor(monitor),
            Question::PendingCodes => Self::PendingCodes,
            Question::Information(kind) => Self::Information(kind),
            Question::PermanentCodes => Self::PermanentCodes,
        }
    }
}

/// A request: one question, or several current values at once.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(super) struct Request(Vec<u8>);

impl Request {
    /// A request for one thing to a car with these services. What they do not have is asked by the others: the car has
    /// no answer to that, and will say so in its way.
    pub fn single(question: Question, services: Services) -> Self {
        let request = service::Request::from(question);
        let mut ways = [services, Services::SaeJ1979, Services::Iso14229].into_iter();
        let bytes = ways.find_map(|services| request.bytes(services));
        Self(bytes.unwrap_or_default())
    }

    /// A request for one thing or for as many current values as the services allow; what cannot be asked together is
    /// left out. `None` when there is nothing to ask.
    pub fn of(questions: &[Question], services: Services) -> Option<Self> {
        match questions {
            [] => None,
            [question] => Some(Self::single(*question, services)),
            several => {
                let pids = parameters(several).take(services.most_parameters());
                let request = service::Request::Current(pids.collect());
                request.bytes(services).map(Self)
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

    // SAE J1979: services 01, 02, 03, 06, 07, 09 and 0A read, 04 clears. ISO 14229-1: 19 and 22 read, 14 clears.
    #[test]
    fn every_question_is_of_a_reading_service() {
        let pid = Pid(0x04);
        for (question, older, newer) in [
            (
                Question::Current(pid),
                &[0x01, 0x04][..],
                &[0x22, 0xF4, 0x04][..],
            ),
            (
                Question::Frozen(pid),
                &[0x02, 0x04, 0x00],
                &[0x02, 0x04, 0x00],
            ),
            (
                Question::Snapshots([3, 3, 0]),
                &[0x19, 0x04, 3, 3, 0, 0xFF],
                &[0x19, 0x04, 3, 3, 0, 0xFF],
            ),
            (
                Question::StoredCodes,
                &[0x03],
                &[0x19, 0x42, 0x33, 0x08, 0x1E],
            ),
            (Question::Monitor(0x04), &[0x06, 0x04], &[0x22, 0xF6, 0x04]),
            (
                Question::PendingCodes,
                &[0x07],
                &[0x19, 0x42, 0x33, 0x04, 0x1E],
            ),
            (
                Question::Information(0x04),
                &[0x09, 0x04],
                &[0x22, 0xF8, 0x04],
            ),
            (Question::PermanentCodes, &[0x0A], &[0x19, 0x55, 0x33]),
        ] {
            let bytes = |services| Request::single(question, services).0;
            assert_eq!(bytes(Services::SaeJ1979), older);
            assert_eq!(bytes(Services::Iso14229), newer);
        }
    }

    #[test]
    fn as_many_values_are_asked_at_once_as_the_services_allow() {
        let many: Vec<Question> = (4..20).map(|pid| Question::Current(Pid(pid))).collect();
        let bytes = |services| Request::of(&many, services).unwrap().0;
        assert_eq!(bytes(Services::SaeJ1979), [1, 4, 5, 6, 7, 8, 9]);
        assert_eq!(bytes(Services::Iso14229), [0x22, 0xF4, 4, 0xF4, 5, 0xF4, 6]);
        assert_eq!(Request::of(&[], Services::SaeJ1979), None);
    }
}
