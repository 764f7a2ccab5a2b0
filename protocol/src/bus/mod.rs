//! What travels on the vehicle's bus: addresses, frames, joined messages.

pub mod address;
mod message;

pub use message::Message;
