//! The published table of service 01 parameters, one row a PID.

/// A row with one measured quantity over all its bytes.
macro_rules! measured {
    ($pid:literal, $name:literal, $unit:expr, $bytes:literal, $scale:expr) => {
        Row::new(
            $pid,
            $name,
            &[$bytes],
            &[linear($name, $unit, (0, $bytes), $scale)],
        )
    };
}

/// A row with one measured quantity in two's complement.
macro_rules! measured_signed {
    ($pid:literal, $name:literal, $unit:expr, $bytes:literal, $factor:expr) => {
        Row::new(
            $pid,
            $name,
            &[$bytes],
            &[signed($name, $unit, (0, $bytes), $factor)],
        )
    };
}

/// A row with one coded quantity.
macro_rules! coded {
    ($pid:literal, $name:literal, $bytes:literal, $words:expr) => {
        Row::new($pid, $name, &[$bytes], &[code($name, (0, $bytes), $words)])
    };
}

/// A trim of one bank, with the other bank in a second byte where the engine has it.
macro_rules! trim {
    ($pid:literal, $name:literal, $bank:literal, $other:literal) => {
        Row::new(
            $pid,
            concat!($name, $bank, " (and ", $other, ")"),
            &[1, 2],
            &[
                linear(concat!($name, $bank), Percent, (0, 1), scale::TRIM),
                linear(concat!($name, $other), Percent, (1, 1), scale::TRIM),
            ],
        )
    };
}

mod rows_00;
mod rows_20;
mod rows_40;
mod rows_60;
mod rows_80;
mod scale;
mod shape;

use super::{Pid, scaling::Quantity};

/// One parameter of the published table.
#[derive(Debug, Clone, Copy)]
pub struct Row {
    /// The parameter.
    pub pid: Pid,
    /// What it is called.
    pub name: &'static str,
    /// Numbers of data bytes that the standard's editions allow, shortest first.
    pub lengths: &'static [u8],
    /// Its quantities, in the order in which an [`crate::Item`] numbers them; empty for a support
    /// mask, and where only name and length are known.
    pub quantities: &'static [Quantity],
}

impl Row {
    const fn new(
        pid: u8,
        name: &'static str,
        lengths: &'static [u8],
        quantities: &'static [Quantity],
    ) -> Self {
        Self {
            pid: Pid(pid),
            name,
            lengths,
            quantities,
        }
    }

    /// A support mask: 32 bits that are no quantity (see [`super::support`]).
    const fn mask(pid: u8, name: &'static str) -> Self {
        Self::new(pid, name, &[4], &[])
    }
}

/// All rows, in the order of their numbers; each part begins with its support mask.
const PARTS: [&[Row]; 5] = [
    rows_00::ROWS,
    rows_20::ROWS,
    rows_40::ROWS,
    rows_60::ROWS,
    rows_80::ROWS,
];

static BY_PID: [Option<Row>; 256] = by_pid();

/// The row of a parameter; `None` when it is not in the published table.
#[inline]
pub fn row(pid: Pid) -> Option<&'static Row> {
    BY_PID.get(usize::from(pid.0))?.as_ref()
}

/// Every row, in the order of the parameters.
pub fn rows() -> impl Iterator<Item = &'static Row> {
    BY_PID.iter().flatten()
}

// Evaluated while compiling: an index out of range would be a build error.
#[allow(clippy::indexing_slicing)]
const fn by_pid() -> [Option<Row>; 256] {
    let mut table: [Option<Row>; 256] = [None; 256];
    let mut part = 0;
    while part < PARTS.len() {
        let mut at = 0;
        while at < PARTS[part].len() {
            let row = PARTS[part][at];
            table[row.pid.0 as usize] = Some(row);
            at += 1;
        }
        part += 1;
    }
    table
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Formulas of SAE J1979, Appendix B, worked by hand.
    #[test]
    fn published_formulas_give_the_values_worked_by_hand() {
        let cases: [(u8, &[u8], f64); 8] = [
            (0x04, &[0xFF], 100.0),
            (0x05, &[0x7B], 83.0),
            (0x06, &[0x80], 0.0),
            (0x07, &[0x90], 12.5),
            (0x0C, &[0x1A, 0xF8], 1726.0),
            (0x0E, &[0x80], 0.0),
            (0x10, &[0x01, 0xF4], 5.0),
            (0x44, &[0x80, 0x00], 1.0),
        ];
        for (pid, data, expected) in cases {
            let quantity = &row(Pid(pid)).unwrap().quantities[0];
            assert!(
                (quantity.value(data).unwrap() - expected).abs() < 1e-9,
                "PID {pid:02X}"
            );
        }
    }

    #[test]
    fn quantities_lie_inside_the_longest_length_of_their_row() {
        for row in rows() {
            let longest = *row.lengths.last().unwrap();
            assert!(row.lengths.is_sorted(), "PID {}", row.pid);
            for quantity in row.quantities {
                let end = quantity.field.first + quantity.field.bytes;
                assert!(end <= longest, "PID {} {}", row.pid, quantity.name);
            }
        }
    }
}
