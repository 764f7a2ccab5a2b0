//! A number that another logger decoded, turned back into the bytes that a controller says it with.
//!
//! This is the published table read backwards, unlike the simulated car, which has its own arithmetic: what is wanted
//! here is that the program reads the number that stands in the capture, to the step that the bytes have.

use pintle_protocol::{
    Item, Pid,
    monitor::{MISFIRE_ALL, MISFIRE_AVERAGE, MISFIRE_THIS_CYCLE, misfire_cylinder},
    pid::{Field, Quantity, Scaling, table},
    service::current_data,
};

/// Scaling of service 06 that counts in ones (SAE J1979, Appendix E).
const COUNTS: u8 = 0x24;

/// Data of a parameter whose first quantity is `value`; `None` when the number has no bytes, or the parameter holds
/// more than is known.
pub(super) fn data(pid: Pid, value: f64) -> Option<Vec<u8>> {
    let row = table::row(pid)?;
    let (quantity, others) = row.quantities.split_first()?;
    let mut data = vec![0; usize::from(*row.lengths.first()?)];
    for other in others {
        if let Some(absent) = other.absent {
            put(other.field, absent, &mut data)?;
        }
    }
    put(quantity.field, raw(quantity, value)?, &mut data)?;
    if let Some(first) = data.first_mut() {
        *first = *first & !quantity.presence.mask | quantity.presence.bits;
    }
    says_only(pid, &data, value, step(quantity)).then_some(data)
}

/// The record of one test of service 06, for misfire counters alone: of other tests the unit is not known.
pub(super) fn test_record(monitor: u8, test: u8, value: f64) -> Option<[u8; 9]> {
    let of_misfires = monitor == MISFIRE_ALL || misfire_cylinder(monitor).is_some();
    let counts = of_misfires && matches!(test, MISFIRE_AVERAGE | MISFIRE_THIS_CYCLE);
    let whole = value.round();
    let within = counts && (0.0..=f64::from(u16::MAX)).contains(&whole);
    let [high, low] = (whole as u16).to_be_bytes();
    // with both limits zero it would not have run
    within.then_some([monitor, test, COUNTS, high, low, 0x00, 0x00, 0xFF, 0xFF])
}

/// Whether these data are read as `value`, within half a step, and as nothing else. A second fuel system that is off is
/// one that is not there (SAE J1979, PID 03).
fn says_only(pid: Pid, data: &[u8], value: f64, step: f64) -> bool {
    let (mut said, mut more) = (false, false);
    current_data::numbers_of(pid, data, |item, number| {
        if item == Item::current(pid) {
            said = (number - value).abs() <= 0.5001 * step;
        } else {
            more |= pid != Pid::FUEL_SYSTEM || number != 0.0;
        }
    });
    said && !more
}

/// Value of one count.
const fn step(quantity: &Quantity) -> f64 {
    match quantity.scaling {
        Scaling::Linear { factor, .. } | Scaling::Signed { factor } => factor,
        Scaling::Code(_) => 0.0,
    }
}

fn raw(quantity: &Quantity, value: f64) -> Option<u32> {
    let number = match quantity.scaling {
        Scaling::Linear { factor, offset } => ((value - offset) / factor).round(),
        Scaling::Signed { factor } => (value / factor).round(),
        Scaling::Code(_) => value,
    };
    let top = f64::from(quantity.field.mask >> quantity.field.shift);
    match quantity.scaling {
        // two's complement, cut to the field when it is put there
        Scaling::Signed { .. } => {
            let half = f64::midpoint(top, 1.0);
            (-half..half)
                .contains(&number)
                .then_some(number as i64 as u32)
        }
        _ => (0.0..=top).contains(&number).then_some(number as u32),
    }
}

/// Writes a raw number into its field.
fn put(field: Field, raw: u32, data: &mut [u8]) -> Option<()> {
    let first = usize::from(field.first);
    let bytes = data.get_mut(first..first + usize::from(field.bytes))?;
    let placed = raw << field.shift & field.mask;
    let kept = placed.to_be_bytes();
    for (byte, new) in bytes.iter_mut().rev().zip(kept.iter().rev()) {
        *byte |= new;
    }
    Some(())
}

#[cfg(test)]
mod tests {
    use super::*;

    // SAE J1979, Appendix B, by hand: 850 × 4 = 0D48; (3.125 + 100) × 1.28 = 132; (90 + 40) = 130;
    // (12.5 + 64) × 2 = 153; 4.23 × 100 = 01A7; 40 % × 2.55 = 102; 0.45 V ÷ 0.005 = 90 without a trim.
    #[test]
    fn numbers_become_the_bytes_of_the_standard() {
        for (pid, value, bytes) in [
            (0x0C, 850.0, &[0x0D, 0x48][..]),
            (0x06, 3.125, &[132]),
            (0x06, 3.0, &[132]),
            (0x05, 90.0, &[130]),
            (0x0E, 12.5, &[153]),
            (0x10, 4.23, &[0x01, 0xA7]),
            (0x04, 40.0, &[102]),
            (0x14, 0.45, &[90, 0xFF]),
            (0x03, 2.0, &[2, 0]),
            (0x1F, 300.0, &[0x01, 0x2C]),
            (0x44, 1.0, &[0x80, 0x00]),
        ] {
            assert_eq!(data(Pid(pid), value).as_deref(), Some(bytes), "{pid:02X}");
        }
    }

    #[test]
    fn what_bytes_cannot_say_is_not_said() {
        for (pid, value) in [
            // beyond the field
            (0x0C, 20_000.0),
            (0x05, -41.0),
            (0x06, 99.9),
            (0x05, f64::INFINITY),
            // no code
            (0x51, 1.5),
            // current beside lambda, readiness beside the lamp: not known, and not to be told as zero
            (0x34, 1.0),
            (0x01, 3.0),
            // not in the table, no quantities
            (0xFE, 1.0),
            (0x00, 1.0),
        ] {
            assert_eq!(data(Pid(pid), value), None, "{pid:02X} {value}");
        }
    }

    // Every single number of the table comes back as it was read.
    #[test]
    fn every_parameter_of_one_quantity_comes_back() {
        let mut tried = 0;
        for row in table::rows() {
            let [quantity] = row.quantities else { continue };
            let Some((low, high)) = quantity.range() else {
                continue;
            };
            for share in [0.0, 0.1, 0.5, 0.77, 0.99] {
                let value = low + share * (high - low);
                let data = data(row.pid, value).unwrap_or_else(|| panic!("{}: {value}", row.pid));
                let mut read = Vec::new();
                current_data::numbers_of(row.pid, &data, |_, number| read.push(number));
                let [number] = read[..] else {
                    panic!("{}: {read:?}", row.pid);
                };
                let step = step(quantity);
                assert!((number - value).abs() <= 0.5001 * step, "{}", row.pid);
                tried += 1;
            }
        }
        assert!(tried > 200, "{tried}");
    }

    // SAE J1979: monitor, test, unit, value, lowest, highest.
    #[test]
    fn misfire_counters_become_records_and_other_tests_do_not() {
        let record = [0xA4, 0x0C, 0x24, 0x01, 0x2C, 0x00, 0x00, 0xFF, 0xFF];
        assert_eq!(test_record(0xA4, 0x0C, 300.0), Some(record));
        assert_eq!(test_record(0xA4, 0x0C, 70_000.0), None);
        assert_eq!(test_record(0xA4, 0x80, 3.0), None);
        assert_eq!(test_record(0x21, 0x0C, 3.0), None);
    }
}
