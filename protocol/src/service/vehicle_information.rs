//! Service 09: vehicle information.

/// Characters of a vehicle identification number (ISO 3779).
const VIN_LENGTH: usize = 17;

/// The vehicle identification number in the bytes after the information type; `None` when they hold none.
///
/// On CAN one byte (number of items) comes first, on the older buses zeros fill up the first message.
pub(super) fn vehicle_identification_number(bytes: &[u8]) -> Option<String> {
    let start = bytes.len().checked_sub(VIN_LENGTH)?;
    let text = bytes.get(start..)?;
    let printable = text.iter().all(u8::is_ascii_alphanumeric);
    printable.then(|| text.iter().copied().map(char::from).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_number_is_found_behind_count_or_filling() {
        let number = b"XX1HARB0URR0W0003";
        let with_count = [&[1][..], number].concat();
        let with_filling = [&[0, 0, 0][..], number].concat();
        for bytes in [with_count, with_filling] {
            let found = vehicle_identification_number(&bytes);
            assert_eq!(found.as_deref(), Some("XX1HARB0URR0W0003"));
        }
        assert_eq!(vehicle_identification_number(&[1, 0xFF, 0xFF]), None);
        assert_eq!(vehicle_identification_number(&[0xFF; 18]), None);
    }
}
