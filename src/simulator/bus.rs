//! The buses that a car may have at its diagnostic connector, and who answers on them.

use pintle_protocol::Address;

/// A bus with its speed or way of waking, as SAE J1979 allows them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bus {
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
}

/// How messages are built on a bus.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum BusFamily {
    /// SAE J1850: three header bytes, a CRC.
    J1850,
    /// ISO 9141-2 and ISO 14230-4: three header bytes, a sum.
    Kline,
    /// ISO 15765-4 with 11-bit identifiers.
    Can11,
    /// ISO 15765-4 with 29-bit identifiers.
    Can29,
}

impl Bus {
    /// Every bus.
    pub const ALL: [Self; 9] = [
        Self::J1850Pwm,
        Self::J1850Vpw,
        Self::Iso9141,
        Self::Iso14230Slow,
        Self::Iso14230Fast,
        Self::Can11At500,
        Self::Can29At500,
        Self::Can11At250,
        Self::Can29At250,
    ];

    /// Whether it is CAN: long messages, several parameters a request, service 06 in the published form.
    pub const fn is_can(self) -> bool {
        matches!(self.family(), BusFamily::Can11 | BusFamily::Can29)
    }

    /// Whether controllers say no, and ask to wait, when all of them are asked at once; on the others they are silent
    /// (SAE J1979, from memory).
    pub(super) const fn refuses_aloud(self) -> bool {
        matches!(self, Self::Iso14230Slow | Self::Iso14230Fast) || self.is_can()
    }

    pub(super) const fn family(self) -> BusFamily {
        match self {
            Self::J1850Pwm | Self::J1850Vpw => BusFamily::J1850,
            Self::Iso9141 | Self::Iso14230Slow | Self::Iso14230Fast => BusFamily::Kline,
            Self::Can11At500 | Self::Can11At250 => BusFamily::Can11,
            Self::Can29At500 | Self::Can29At250 => BusFamily::Can29,
        }
    }

    /// Addresses of engine and transmission controller (ISO 15765-4; SAE J2178-1: 10 and 18).
    pub const fn addresses(self) -> (Address, Address) {
        match self.family() {
            BusFamily::J1850 | BusFamily::Kline => (Address::Byte(0x10), Address::Byte(0x18)),
            BusFamily::Can11 => (Address::Can11(0x7E8), Address::Can11(0x7E9)),
            BusFamily::Can29 => (Address::Can29(0x18DA_F110), Address::Can29(0x18DA_F118)),
        }
    }
}
