//! The way to the car: ports and hosts, what to ask and when, and the pump that moves bytes.
