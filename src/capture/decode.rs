//! What one row says: numbers, and facts that are no numbers.

use pintle_protocol::{
    Item, Pid,
    bus::hex,
    pid::support,
    service::{Answer, answer, current_data, monitor_results},
};

use super::row::{Kind, Row};
use crate::quantity::item_of_request;

/// A fact that is no number, with its time in µs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Note {
    pub t_us: u64,
    pub content: Content,
}

/// A fact that is no number.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Content {
    /// A remark.
    Mark(String),
    /// A state of the link.
    Link(String),
    /// An answer that holds no number: codes, freeze frame, vehicle identification.
    Answer(Answer),
}

/// Decodes an answer; numbers go to `take`, anything else is returned. What cannot be decoded gives nothing: the row
/// keeps its bytes for a better decoder.
#[inline]
pub(super) fn decode_data(
    request: &[u8],
    response: &[u8],
    take: impl FnMut(Item, f64),
) -> Option<Content> {
    match request {
        _ if asks_what_is_supported(request) => return other_answer(request, response),
        // the same items by service or, on newer cars, by identifier
        [0x01, ..] | [0x22, 0xF4, ..] => {
            current_data::for_each_number(request, response, take).ok()
        }
        [0x06, ..] | [0x22, 0xF6, ..] => {
            monitor_results::for_each_number(request, response, take).ok()
        }
        _ => return other_answer(request, response),
    };
    None
}

/// Whether this asks for support masks alone.
#[inline]
fn asks_what_is_supported(request: &[u8]) -> bool {
    match request {
        [0x01 | 0x06, items @ ..] => items.iter().all(|item| support::is_mask(*item)),
        [0x22, identifiers @ ..] => {
            let (identifiers, odd) = identifiers.as_chunks::<2>();
            let masks =
                |[kind, item]: &[u8; 2]| matches!(kind, 0xF4 | 0xF6) && support::is_mask(*item);
            odd.is_empty() && identifiers.iter().all(masks)
        }
        _ => false,
    }
}

#[cold]
fn other_answer(request: &[u8], response: &[u8]) -> Option<Content> {
    match answer::decode(request, response).ok()? {
        Answer::Negative { .. } | Answer::Unknown(_) => None,
        answer => Some(Content::Answer(answer)),
    }
}

/// Decodes any row; numbers go to `take`, anything else is returned.
pub(super) fn decode_row(row: &Row<'_>, mut take: impl FnMut(Item, f64)) -> Option<Content> {
    match row.kind {
        Kind::Mark => Some(Content::Mark(row.response.to_owned())),
        Kind::Link => Some(Content::Link(row.response.to_owned())),
        Kind::None => None,
        Kind::Value => {
            if let (Some(item), Ok(value)) = (item_of_request(row.request), row.response.parse()) {
                take(item, value);
            }
            None
        }
        Kind::Data => decode_data(&bytes_of(row.request)?, &bytes_of(row.response)?, take),
    }
}

/// Hands every number in a row to `take`, whichever controller gave it.
pub fn numbers(row: &Row<'_>, take: impl FnMut(Item, f64)) {
    if matches!(row.kind, Kind::Data | Kind::Value) {
        // What is no number is not asked for here.
        let _ = decode_row(row, take);
    }
}

/// The answer in a `data` row; `None` when it cannot be decoded or the row is of another kind.
pub fn answer(row: &Row<'_>) -> Option<Answer> {
    match row.kind {
        Kind::Data => answer::decode(&bytes_of(row.request)?, &bytes_of(row.response)?).ok(),
        _ => None,
    }
}

/// The bytes that hex text says.
fn bytes_of(text: &str) -> Option<Vec<u8>> {
    let mut bytes = vec![0; text.len() / 2];
    hex::decode_into(text.as_bytes(), &mut bytes)?;
    Some(bytes)
}

/// Whether an item is a fuel trim whose answer identifies the engine controller.
pub(super) const fn is_trim(item: Item) -> bool {
    matches!(
        item,
        Item::Current {
            pid: Pid(0x06..=0x09),
            ..
        }
    )
}
