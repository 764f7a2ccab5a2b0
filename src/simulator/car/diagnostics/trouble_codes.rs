//! Services 03, 07 and 0A: lists of trouble codes in two bytes each (ISO 15031-6: P0xxx is 0xxx).

/// The code of a lean bank (from 0): P0171, P0174.
pub const fn lean(bank: usize) -> u16 {
    if bank == 0 { 0x0171 } else { 0x0174 }
}

/// The code of a rich bank (from 0): P0172, P0175.
pub const fn rich(bank: usize) -> u16 {
    if bank == 0 { 0x0172 } else { 0x0175 }
}

/// Misfires in several cylinders, P0300.
pub const MISFIRE_SEVERAL: u16 = 0x0300;

/// The code of one cylinder's misfires, P0301 to P0308 and on.
pub const fn misfire(cylinder: u8) -> u16 {
    0x0300 + decimal(cylinder)
}

/// The code of an injector's circuit, P0201 and on.
pub const fn injector_circuit(cylinder: u8) -> u16 {
    0x0200 + decimal(cylinder)
}

/// Codes count in decimal digits: cylinder 10 is P0310.
const fn decimal(cylinder: u8) -> u16 {
    (cylinder as u16 / 10) * 16 + cylinder as u16 % 10
}

/// The answer to a request for a list on CAN: the count comes first.
pub fn encode(answer: u8, codes: &[u16]) -> Vec<u8> {
    let mut bytes = vec![answer, codes.len() as u8];
    bytes.extend(codes.iter().flat_map(|code| code.to_be_bytes()));
    bytes
}

/// The answer on the buses before CAN: three codes a message, the last filled with zeros, one message of zeros for none.
pub fn in_threes(answer: u8, codes: &[u16]) -> Vec<Vec<u8>> {
    let message = |codes: &[u16]| {
        let mut bytes = vec![answer];
        bytes.extend(codes.iter().flat_map(|code| code.to_be_bytes()));
        bytes.resize(7, 0);
        bytes
    };
    match codes {
        [] => vec![message(&[])],
        codes => codes.chunks(3).map(message).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // SAE J1979 before CAN: 43, three codes, 00 00 in unused places.
    #[test]
    fn before_can_three_codes_fill_a_message() {
        let codes = [lean(0), misfire(3), misfire(4), rich(1)];
        assert_eq!(
            in_threes(0x43, &codes),
            [
                [0x43, 0x01, 0x71, 0x03, 0x03, 0x03, 0x04],
                [0x43, 0x01, 0x75, 0, 0, 0, 0]
            ]
        );
        assert_eq!(in_threes(0x47, &[]), [[0x47, 0, 0, 0, 0, 0, 0]]);
    }

    #[test]
    fn codes_are_counted_and_reported_in_two_bytes() {
        let codes = [lean(0), misfire(3), misfire(12)];
        assert_eq!(
            encode(0x43, &codes),
            [0x43, 3, 0x01, 0x71, 0x03, 0x03, 0x03, 0x12]
        );
        assert_eq!(encode(0x47, &[]), [0x47, 0]);
        assert_eq!((rich(1), injector_circuit(8)), (0x0175, 0x0208));
    }
}
