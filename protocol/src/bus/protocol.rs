//! Which bus the car speaks, and the form its frames have in print.

use std::fmt;

/// The vehicle's bus with its speed or way of waking, as SAE J1979 allows them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Protocol {
    /// SAE J1850, pulse width modulation, 41.6 kbit/s.
    J1850Pwm,
    /// SAE J1850, variable pulse width, 10.4 kbit/s.
    J1850Vpw,
    /// ISO 9141-2, woken at 5 baud.
    Iso9141,
    /// ISO 14230-4, woken at 5 baud.
    Iso14230Slow,
    /// ISO 14230-4, woken by a fast pulse.
    Iso14230Fast,
    /// ISO 15765-4, 11-bit identifiers, 500 kbit/s.
    Can11At500,
    /// ISO 15765-4, 29-bit identifiers, 500 kbit/s.
    Can29At500,
    /// ISO 15765-4, 11-bit identifiers, 250 kbit/s.
    Can11At250,
    /// ISO 15765-4, 29-bit identifiers, 250 kbit/s.
    Can29At250,
    /// The adapter did not say which; only the form of the frames is known.
    Unnamed(Framing),
}

/// How a frame is built. Protocols of one framing differ only in speed or in how the bus is woken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Framing {
    /// CAN with 11-bit identifiers, ISO 15765-2 inside.
    Can11,
    /// CAN with 29-bit identifiers, ISO 15765-2 inside.
    Can29,
    /// Three header bytes, data, sum of all bytes (ISO 9141-2, ISO 14230-4).
    Kline,
    /// Three header bytes, data, CRC (SAE J1850).
    J1850,
}

impl Protocol {
    /// How this bus builds its frames.
    pub const fn framing(self) -> Framing {
        match self {
            Self::J1850Pwm | Self::J1850Vpw => Framing::J1850,
            Self::Iso9141 | Self::Iso14230Slow | Self::Iso14230Fast => Framing::Kline,
            Self::Can11At500 | Self::Can11At250 => Framing::Can11,
            Self::Can29At500 | Self::Can29At250 => Framing::Can29,
            Self::Unnamed(framing) => framing,
        }
    }

    /// Whether the bus is CAN: several parameters a request, service 06 in the published format.
    pub const fn is_can(self) -> bool {
        self.framing().is_can()
    }

    /// The identifier that stands in a capture's header.
    pub const fn id(self) -> &'static str {
        match self {
            Self::J1850Pwm => "j1850-pwm",
            Self::J1850Vpw => "j1850-vpw",
            Self::Iso9141 => "iso9141-2",
            Self::Iso14230Slow => "iso14230-4-slow",
            Self::Iso14230Fast => "iso14230-4-fast",
            Self::Can11At500 => "iso15765-11-500",
            Self::Can29At500 => "iso15765-29-500",
            Self::Can11At250 => "iso15765-11-250",
            Self::Can29At250 => "iso15765-29-250",
            Self::Unnamed(Framing::Can11) => "iso15765-11",
            Self::Unnamed(Framing::Can29) => "iso15765-29",
            Self::Unnamed(Framing::Kline) => "kline",
            Self::Unnamed(Framing::J1850) => "j1850",
        }
    }
}

impl Framing {
    /// Whether frames are CAN frames.
    pub const fn is_can(self) -> bool {
        matches!(self, Self::Can11 | Self::Can29)
    }
}

impl fmt::Display for Protocol {
    /// Standard, form and speed, for people.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::J1850Pwm => "SAE J1850 PWM",
            Self::J1850Vpw => "SAE J1850 VPW",
            Self::Iso9141 => "ISO 9141-2",
            Self::Iso14230Slow => "ISO 14230-4, woken at 5 baud",
            Self::Iso14230Fast => "ISO 14230-4, woken by a fast pulse",
            Self::Can11At500 => "ISO 15765-4 (CAN), 11 bit, 500 kbit/s",
            Self::Can29At500 => "ISO 15765-4 (CAN), 29 bit, 500 kbit/s",
            Self::Can11At250 => "ISO 15765-4 (CAN), 11 bit, 250 kbit/s",
            Self::Can29At250 => "ISO 15765-4 (CAN), 29 bit, 250 kbit/s",
            Self::Unnamed(Framing::Can11) => "ISO 15765-4 (CAN), 11 bit",
            Self::Unnamed(Framing::Can29) => "ISO 15765-4 (CAN), 29 bit",
            Self::Unnamed(Framing::Kline) => "ISO 9141-2 or ISO 14230-4",
            Self::Unnamed(Framing::J1850) => "SAE J1850",
        })
    }
}
