//! A simulated car behind a virtual adapter: for the demo and as a witness in tests, never the only proof of physics. A
//! recorded car or a trace can stand in its place.
//!
//! It is independent of the decoding side: what a controller sends is computed here from the standard's text with its
//! own small arithmetic, so that a slip in the tables of `pintle-protocol` shows as a disagreement.

pub mod adapter;
pub mod bus;
pub mod car;
pub mod recorded;
