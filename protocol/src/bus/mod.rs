//! What travels on the vehicle's bus: addresses, frames, joined messages.

pub mod address;
pub mod can;
pub mod counted;
pub mod hex;
pub mod j1850;
pub mod kline;
mod message;
mod protocol;
pub mod segment;

pub use message::Message;
pub use protocol::{Framing, Protocol};
