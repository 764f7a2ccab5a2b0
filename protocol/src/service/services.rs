//! Which family of services a car answers for its emission data.

use std::fmt;

/// The two families. What they tell is the same, item by item; requests and answers differ.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Services {
    /// Services 01 to 0A of SAE J1979 / ISO 15031-5.
    #[default]
    SaeJ1979,
    /// Services 22, 19 and 14 of ISO 14229, as SAE J1979-2 uses them on newer cars.
    Iso14229,
}

impl Services {
    /// Most parameters that one request may ask for. SAE J1979 allows six; of two-byte identifiers
    /// three fit into the single CAN frame that a request to all controllers must be (ISO 15765-2:
    /// seven bytes, one of them the service).
    pub const fn most_parameters(self) -> usize {
        match self {
            Self::SaeJ1979 => 6,
            Self::Iso14229 => 3,
        }
    }

    /// A short identifier.
    pub const fn id(self) -> &'static str {
        match self {
            Self::SaeJ1979 => "sae-j1979",
            Self::Iso14229 => "iso14229",
        }
    }
}

impl fmt::Display for Services {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::SaeJ1979 => "SAE J1979",
            Self::Iso14229 => "ISO 14229 (SAE J1979-2)",
        })
    }
}
