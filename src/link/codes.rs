//! Trouble codes, the lamp and the freeze frame, asked of every controller.

use pintle_protocol::{
    Address, Pid,
    bus::{Framing, Message, Protocol},
    dialogue::Answer,
    dtc::TroubleCode,
    pid::{readiness::MonitorStatus, support},
    service::{
        ReportedCode, Services,
        answer::{self, Answer as Meaning},
        current_data,
    },
};

use super::{
    error::LinkError,
    plan::{self, FROZEN_CODE},
    question::Question,
    session::{Reply, Session},
};

/// What the controllers keep about faults. A list is `None` when nobody answered for it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Codes {
    /// Confirmed codes.
    pub stored: Option<Vec<FoundCode>>,
    /// Codes of this or the last driving cycle, not confirmed yet.
    pub pending: Option<Vec<FoundCode>>,
    /// Codes that only driving clears.
    pub permanent: Option<Vec<FoundCode>>,
    /// Lamp and monitors by the engine controller.
    pub status: Option<MonitorStatus>,
    /// Whether the bus lets a car that has no stored or pending code leave that question without an answer (ISO 9141-2,
    /// SAE J1850; SAE J1979, from memory).
    pub silence_may_mean_none: bool,
    /// What the engine controller noted down when a code was stored; `None` when there is nothing noted. Newer cars note
    /// it for each code: this is the first one's.
    pub freeze_frame: Option<FreezeFrame>,
}

/// A code and who has it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FoundCode {
    /// The controller, unless the adapter does not show it.
    pub controller: Option<Address>,
    /// The code.
    pub code: TroubleCode,
    /// The kind of failure (SAE J2012-DA), where a newer car tells more than the code.
    pub failure_type: Option<u8>,
}

/// Values as they were when a code was stored.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FreezeFrame {
    /// The code.
    pub code: TroubleCode,
    /// Parameters and their data bytes.
    pub values: Vec<(Pid, Vec<u8>)>,
}

impl Session {
    /// Reads all codes, the lamp, and the freeze frame.
    ///
    /// # Errors
    /// When the link is lost over it.
    pub async fn codes(&mut self) -> Result<Codes, LinkError> {
        self.codes_with_replies(&mut Vec::new()).await
    }

    /// [`Session::codes`], adding every reply to these.
    pub(super) async fn codes_with_replies(
        &mut self,
        replies: &mut Vec<Reply>,
    ) -> Result<Codes, LinkError> {
        Ok(Codes {
            freeze_frame: self.freeze_frame(replies).await?,
            ..self.code_lists(replies).await?
        })
    }

    /// Reads all codes and the lamp.
    pub(super) async fn code_lists(
        &mut self,
        replies: &mut Vec<Reply>,
    ) -> Result<Codes, LinkError> {
        Ok(Codes {
            stored: self.code_list(Question::StoredCodes, replies).await?,
            pending: self.code_list(Question::PendingCodes, replies).await?,
            permanent: self.code_list(Question::PermanentCodes, replies).await?,
            status: self.status(replies).await?,
            silence_may_mean_none: matches!(
                self.connection().protocol,
                Protocol::Iso9141
                    | Protocol::J1850Pwm
                    | Protocol::J1850Vpw
                    | Protocol::Unnamed(Framing::J1850)
            ),
            freeze_frame: None,
        })
    }

    async fn code_list(
        &mut self,
        question: Question,
        replies: &mut Vec<Reply>,
    ) -> Result<Option<Vec<FoundCode>>, LinkError> {
        let reply = self.ask_into(question, replies).await?;
        let found = |(controller, reported): (_, ReportedCode)| FoundCode {
            controller,
            code: reported.code,
            failure_type: reported.failure_type.filter(|kind| *kind != 0),
        };
        let answered = matches!(reply, Reply::Answer(_));
        Ok(answered.then(|| reported(&reply).map(found).collect()))
    }

    async fn status(
        &mut self,
        replies: &mut Vec<Reply>,
    ) -> Result<Option<MonitorStatus>, LinkError> {
        let reply = self
            .ask_into(Question::Current(Pid::MONITOR_STATUS), replies)
            .await?;
        let mut status = None;
        if let Some((answer, message)) = self.of_engine(&reply) {
            let take = |pid, data: &[u8]| {
                let bytes = data.try_into().ok();
                status = bytes
                    .filter(|_| pid == Pid::MONITOR_STATUS)
                    .map(MonitorStatus::from_bytes);
            };
            // what cannot be read tells nothing
            let _ = current_data::for_each_parameter(&answer.request, &message.payload, take);
        }
        Ok(status)
    }

    async fn freeze_frame(
        &mut self,
        replies: &mut Vec<Reply>,
    ) -> Result<Option<FreezeFrame>, LinkError> {
        match self.connection().services {
            Services::SaeJ1979 => self.older_freeze_frame(replies).await,
            Services::Iso14229 => self.newer_freeze_frame(replies).await,
        }
    }

    /// What was noted down with the first stored code of the engine controller that has anything noted.
    async fn newer_freeze_frame(
        &mut self,
        replies: &mut Vec<Reply>,
    ) -> Result<Option<FreezeFrame>, LinkError> {
        let stored = self.ask_into(Question::StoredCodes, replies).await?;
        let engine = self.connection().engine().and_then(|engine| engine.address);
        let of_engine = reported(&stored).filter(|(controller, _)| *controller == engine);
        for (_, code) in of_engine {
            let reply = self
                .ask_into(Question::Snapshots(code.bytes()), replies)
                .await?;
            let Some((answer, message)) = self.of_engine(&reply) else {
                continue;
            };
            let decoded = answer::decode(&answer.request, &message.payload);
            if let Ok(Meaning::Snapshots { code, snapshots }) = decoded
                && let Some(first) = snapshots.into_iter().next()
            {
                return Ok(Some(FreezeFrame {
                    code: code.code,
                    values: first.values,
                }));
            }
        }
        Ok(None)
    }

    async fn older_freeze_frame(
        &mut self,
        replies: &mut Vec<Reply>,
    ) -> Result<Option<FreezeFrame>, LinkError> {
        let Some(&[high, low]) = self.frozen(FROZEN_CODE, replies).await?.as_deref() else {
            return Ok(None);
        };
        let Some(code) = TroubleCode::from_bytes([high, low]) else {
            return Ok(None);
        };
        let mut values = Vec::new();
        for pid in self.frozen_parameters(replies).await? {
            if let Some(data) = self.frozen(pid, replies).await? {
                values.push((pid, data));
            }
        }
        Ok(Some(FreezeFrame { code, values }))
    }

    /// Which parameters the frame holds, by its own support masks; without any, what is worth trying.
    async fn frozen_parameters(&mut self, replies: &mut Vec<Reply>) -> Result<Vec<Pid>, LinkError> {
        let mut pids = Vec::new();
        let mut next = Some(0);
        while let Some(base) = next.take() {
            let Some(&[a, b, c, d]) = self.frozen(Pid(base), replies).await?.as_deref() else {
                break;
            };
            for item in support::supported(base, [a, b, c, d]) {
                if support::is_mask(item) {
                    next = Some(item).filter(|item| *item > base)
                } else {
                    pids.push(Pid(item))
                }
            }
        }
        pids.retain(|pid| *pid != FROZEN_CODE);
        if pids.is_empty() {
            pids = self
                .connection()
                .engine()
                .map(plan::frozen_parameters)
                .unwrap_or_default();
        }
        Ok(pids)
    }

    /// The engine controller's data bytes of a parameter of frame 0.
    async fn frozen(
        &mut self,
        pid: Pid,
        replies: &mut Vec<Reply>,
    ) -> Result<Option<Vec<u8>>, LinkError> {
        let reply = self.ask_into(Question::Frozen(pid), replies).await?;
        let Some((answer, message)) = self.of_engine(&reply) else {
            return Ok(None);
        };
        Ok(match answer::decode(&answer.request, &message.payload) {
            Ok(Meaning::FreezeFrame {
                pid: told, data, ..
            }) if told == pid => Some(data),
            _ => None,
        })
    }

    /// The engine controller's part of a reply.
    pub(super) fn of_engine<'a>(&self, reply: &'a Reply) -> Option<(&'a Answer, &'a Message)> {
        let Reply::Answer(answer) = reply else {
            return None;
        };
        Some((answer, self.all_of_engine(reply).next()?))
    }

    /// Every message of the engine controller in a reply.
    pub(super) fn all_of_engine<'a>(&self, reply: &'a Reply) -> impl Iterator<Item = &'a Message> {
        let engine = self.connection().engine().map(|engine| engine.address);
        let messages = match reply {
            Reply::Answer(answer) => answer.messages.as_slice(),
            Reply::None(_) => &[],
        };
        messages
            .iter()
            .filter(move |message| Some(message.from) == engine)
    }
}

/// The codes of a reply and who has them.
fn reported(reply: &Reply) -> impl Iterator<Item = (Option<Address>, ReportedCode)> + '_ {
    let answer = match reply {
        Reply::Answer(answer) => Some(answer),
        Reply::None(_) => None,
    };
    answer.into_iter().flat_map(|answer| {
        answer.messages.iter().flat_map(|message| {
            let codes = match answer::decode(&answer.request, &message.payload) {
                Ok(Meaning::Codes { codes, .. }) => codes,
                _ => Vec::new(),
            };
            codes.into_iter().map(|code| (message.from, code))
        })
    })
}
