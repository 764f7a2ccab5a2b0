//! The conversation with adapter and car as a state machine: bytes and times in; bytes, events and deadlines out.
