//! The few shapes in which a parameter's bytes carry a number.

use crate::unit::Unit;

/// One number inside a parameter's data bytes.
#[derive(Debug, Clone, Copy)]
pub struct Quantity {
    /// What it is, in the standard's terms.
    pub name: &'static str,
    /// Its unit.
    pub unit: Unit,
    /// Where its bytes stand.
    pub field: Field,
    /// How its raw number becomes a value.
    pub scaling: Scaling,
    /// What the first data byte must say for this quantity to be there.
    pub presence: Presence,
    /// The raw number that means "not available", where the standard has one.
    pub absent: Option<u32>,
}

/// What the first data byte says about a quantity: it is there when the bits under `mask` are
/// `bits`.
#[derive(Debug, Clone, Copy)]
pub struct Presence {
    /// Which bits count.
    pub mask: u8,
    /// What they must be.
    pub bits: u8,
}

impl Presence {
    /// There whatever the first byte is.
    pub const ALWAYS: Self = Self { mask: 0, bits: 0 };

    const fn agrees(self, first: u8) -> bool {
        first & self.mask == self.bits
    }
}

/// A stretch of 1 to 4 bytes, most significant first, or some bits of one byte.
#[derive(Debug, Clone, Copy)]
pub struct Field {
    /// Offset of the first byte.
    pub first: u8,
    /// Number of bytes, 1 to 4.
    pub bytes: u8,
    /// Mask applied to the number read.
    pub mask: u32,
    /// Bits to shift right after masking.
    pub shift: u8,
}

/// From raw number to value.
#[derive(Debug, Clone, Copy)]
pub enum Scaling {
    /// `raw × factor + offset`.
    Linear {
        /// Value of one count.
        factor: f64,
        /// Value at raw 0.
        offset: f64,
    },
    /// As `Linear`, the raw number being two's complement over the field's bytes.
    Signed {
        /// Value of one count.
        factor: f64,
    },
    /// A code with words instead of a measure; its raw number is the value.
    Code(fn(u32) -> String),
}

impl Field {
    /// The raw number, if the data are long enough.
    #[inline]
    pub fn raw(&self, data: &[u8]) -> Option<u32> {
        let first = usize::from(self.first);
        let bytes = data.get(first..first + usize::from(self.bytes))?;
        let number = bytes
            .iter()
            .fold(0_u32, |number, byte| number << 8 | u32::from(*byte));
        Some((number & self.mask) >> self.shift)
    }
}

impl Quantity {
    /// The value, or `None` when the data are too short or say that the quantity is not there.
    #[inline]
    pub fn value(&self, data: &[u8]) -> Option<f64> {
        let raw = self.field.raw(data)?;
        if !self.presence.agrees(*data.first()?) || self.absent == Some(raw) {
            return None;
        }
        Some(match self.scaling {
            Scaling::Linear { factor, offset } => f64::from(raw) * factor + offset,
            Scaling::Signed { factor } => f64::from(self.field.signed(raw)) * factor,
            Scaling::Code(_) => f64::from(raw),
        })
    }

    /// The words of a coded quantity for its `value`; `None` for a measured one.
    pub fn text(&self, value: f64) -> Option<String> {
        match self.scaling {
            Scaling::Code(words) => Some(words(value as u32)),
            _ => None,
        }
    }

    /// Lowest and highest number the field can carry, a coded quantity's code too.
    pub fn limits(&self) -> (f64, f64) {
        let codes = || (0.0, f64::from(self.field.mask >> self.field.shift));
        self.range().unwrap_or_else(codes)
    }

    /// Lowest and highest value the field can carry; `None` for a coded quantity.
    pub fn range(&self) -> Option<(f64, f64)> {
        let top = self.field.mask >> self.field.shift;
        match self.scaling {
            Scaling::Linear { factor, offset } => Some((offset, f64::from(top) * factor + offset)),
            Scaling::Signed { factor } => {
                let half = f64::from(top / 2) + 1.0;
                Some((-half * factor, (half - 1.0) * factor))
            }
            Scaling::Code(_) => None,
        }
    }
}

impl Field {
    fn signed(&self, raw: u32) -> i32 {
        let unused = 32 - 8 * u32::from(self.bytes);
        ((raw << unused) as i32) >> unused
    }
}

/// A quantity of `bytes` bytes from `first`, scaled linearly.
pub(super) const fn linear(
    name: &'static str,
    unit: Unit,
    (first, bytes): (u8, u8),
    (factor, offset): (f64, f64),
) -> Quantity {
    let mask = if bytes >= 4 {
        u32::MAX
    } else {
        (1 << (8 * bytes as u32)) - 1
    };
    let field = Field {
        first,
        bytes,
        mask,
        shift: 0,
    };
    Quantity {
        name,
        unit,
        field,
        scaling: Scaling::Linear { factor, offset },
        presence: Presence::ALWAYS,
        absent: None,
    }
}

/// A signed quantity of `bytes` bytes from `first`.
pub(super) const fn signed(
    name: &'static str,
    unit: Unit,
    (first, bytes): (u8, u8),
    factor: f64,
) -> Quantity {
    let mut quantity = linear(name, unit, (first, bytes), (0.0, 0.0));
    quantity.scaling = Scaling::Signed { factor };
    quantity
}

/// A coded quantity of `bytes` bytes from `first`.
pub(super) const fn code(
    name: &'static str,
    (first, bytes): (u8, u8),
    words: fn(u32) -> String,
) -> Quantity {
    let mut quantity = linear(name, Unit::None, (first, bytes), (0.0, 0.0));
    quantity.scaling = Scaling::Code(words);
    quantity
}

/// A quantity that is there only when bit `bit` of the first data byte is set.
pub(super) const fn if_bit(bit: u8, mut quantity: Quantity) -> Quantity {
    let mask = 1 << bit;
    quantity.presence = Presence { mask, bits: mask };
    quantity
}

/// A quantity that is there only when bit `bit` of the first data byte is set and bit `unless` is
/// not.
pub(super) const fn if_bit_unless(bit: u8, unless: u8, mut quantity: Quantity) -> Quantity {
    let bits = 1 << bit;
    let mask = bits | 1 << unless;
    quantity.presence = Presence { mask, bits };
    quantity
}

/// A quantity that is not available when its raw number is `raw`.
pub(super) const fn absent_at(raw: u32, mut quantity: Quantity) -> Quantity {
    quantity.absent = Some(raw);
    quantity
}

/// A quantity in `bits` bits of its bytes that begin `shift` bits from the lowest.
pub(super) const fn in_bits(bits: u8, shift: u8, mut quantity: Quantity) -> Quantity {
    quantity.field.mask = ((1 << bits) - 1) << shift;
    quantity.field.shift = shift;
    quantity
}
