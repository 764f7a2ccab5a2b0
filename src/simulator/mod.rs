//! A simulated car behind a virtual adapter: for the demo and as a witness in tests, never the only proof of physics. A
//! recorded car or a trace can stand in its place.
//!
//! It is independent of the decoding side: what a controller sends is computed here from the standard's text with its
//! own small arithmetic, so that a slip in the tables of `pintle-protocol` shows as a disagreement.

pub mod bus;
pub mod car;
mod diagnostics;
pub mod endpoint;
mod engine;
pub mod fault;
pub mod fleet;
mod plugged_car;
pub mod recorded;
mod road;
mod trace_player;
pub mod trip;
mod virtual_adapter;

pub use engine::{Steady, nature};
pub use plugged_car::PluggedCar;
pub use trace_player::TracePlayer;
pub use virtual_adapter::{BusLog, Mishap, Mishaps, Purpose, Sent, VirtualAdapter};
