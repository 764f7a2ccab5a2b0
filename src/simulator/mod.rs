//! A simulated car behind a virtual adapter: for the demo and as a witness in tests, never the only proof of physics.
