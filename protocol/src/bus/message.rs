//! One whole answer of one controller, already joined from its frames.

use super::address::Address;

/// A complete diagnostic message as a controller sent it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Message {
    /// Who sent it; unknown when the adapter was set to show no headers.
    pub from: Option<Address>,
    /// The message without header, length and checksum: the first byte is the (positive or
    /// negative) answer byte.
    pub payload: Vec<u8>,
}
