//! A request that is over, as rows of a capture.

use pintle_protocol::{
    adapter::Refusal,
    bus::hex,
    dialogue::{Answer, NoAnswer, Why},
};

use super::session::Reply;
use crate::capture::{Kind, Row};

/// Gives every row of a reply to `write`, its time in the session's microseconds.
pub(super) fn of_reply<E>(
    reply: &Reply,
    write: impl FnMut(Row<'_>) -> Result<(), E>,
) -> Result<(), E> {
    match reply {
        Reply::Answer(answer) => of_answer(answer, write),
        Reply::None(no_answer) => of_no_answer(no_answer, write),
    }
}

/// One row a controller that answered or refused.
pub(super) fn of_answer<E>(
    answer: &Answer,
    mut write: impl FnMut(Row<'_>) -> Result<(), E>,
) -> Result<(), E> {
    let request = hex::encode(&answer.request);
    for message in &answer.messages {
        let ecu = message.from.map(|from| from.to_string());
        write(Row {
            t_us: answer.answered_at_us,
            kind: Kind::Data,
            ecu: ecu.as_deref().unwrap_or_default(),
            request: &request,
            response: &hex::encode(&message.payload),
        })?;
    }
    of_refusals(answer.answered_at_us, &request, &answer.refusals, write)
}

/// One row a controller that refused; without any, one row that says why there is no answer.
pub(super) fn of_no_answer<E>(
    no_answer: &NoAnswer,
    mut write: impl FnMut(Row<'_>) -> Result<(), E>,
) -> Result<(), E> {
    let request = hex::encode(&no_answer.request);
    let at_us = no_answer.ended_at_us;
    match &no_answer.why {
        Why::Refused(refusals) if !refusals.is_empty() => {
            of_refusals(at_us, &request, refusals, write)
        }
        why => write(Row {
            t_us: at_us,
            kind: Kind::None,
            ecu: "",
            request: &request,
            response: &why.to_string(),
        }),
    }
}

fn of_refusals<E>(
    at_us: u64,
    request: &str,
    refusals: &[Refusal],
    mut write: impl FnMut(Row<'_>) -> Result<(), E>,
) -> Result<(), E> {
    for refusal in refusals {
        let ecu = refusal.from.map(|from| from.to_string());
        write(Row {
            t_us: at_us,
            kind: Kind::None,
            ecu: ecu.as_deref().unwrap_or_default(),
            request,
            response: &format!("negative:{:02X}", refusal.code),
        })?;
    }
    Ok(())
}
