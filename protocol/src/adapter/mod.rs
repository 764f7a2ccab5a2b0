//! The serial adapter's language: what we say to it and what it says back.
