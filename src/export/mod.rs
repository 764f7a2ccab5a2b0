//! Decoded data out of captures.
