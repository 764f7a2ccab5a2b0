//! Takes what a capture holds, fact by fact: the one way from a recording, live or read back, into the series.

use pintle_protocol::{
    Pid,
    dtc::TroubleCode,
    service::{self, Answer},
};

use crate::{
    capture::Fact,
    series::{
        builder::Builder,
        gather::misfire_frame::is_misfire,
        summary::{CodeList, CodeSeen},
    },
};

impl Builder {
    /// Takes any fact of a capture; remarks and link states say nothing about the engine.
    #[inline]
    pub fn take(&mut self, fact: &Fact<'_>) {
        match fact {
            Fact::Reading(reading) => self.push(*reading),
            Fact::Answer { answer, .. } => self.take_answer(answer),
            Fact::Mark { .. } | Fact::Link { .. } => {}
        }
    }

    /// Takes what a judgement needs from an answer without numbers.
    fn take_answer(&mut self, answer: &Answer) {
        match answer {
            Answer::Codes { list, codes } => {
                let list = match list {
                    service::CodeList::Stored => CodeList::Stored,
                    service::CodeList::Pending => CodeList::Pending,
                    service::CodeList::Permanent => CodeList::Permanent,
                };
                if list != CodeList::Permanent {
                    self.push_codes_asked();
                }
                for code in codes {
                    let code = code.code;
                    self.push_code(CodeSeen { code, list });
                }
            }
            Answer::FreezeFrame { pid, data, .. } => self.take_frozen(*pid, data),
            Answer::Snapshots { code, snapshots } if is_misfire(code.code) => {
                self.push_frozen_code(code.code);
                for (pid, data) in snapshots.iter().flat_map(|snapshot| &snapshot.values) {
                    self.push_frozen_value(*pid, data);
                }
            }
            identity => self.car_mut().take_answer(identity),
        }
    }

    /// Takes a value of the freeze frame or, in place of a value, the code that it belongs to (PID 02).
    fn take_frozen(&mut self, pid: Pid, data: &[u8]) {
        match (pid, data) {
            (Pid(0x02), [high, low]) => {
                if let Some(code) = TroubleCode::from_bytes([*high, *low]) {
                    self.push_frozen_code(code);
                }
            }
            _ => self.push_frozen_value(pid, data),
        }
    }
}
