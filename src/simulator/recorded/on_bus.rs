//! The bus of the recorded car, and how an answer that was joined while it was recorded is sent on it again.

use pintle_protocol::{Address, bus::Protocol};

use crate::{
    capture::Header,
    simulator::bus::{Bus, BusFamily},
};

/// Longest message on CAN, bytes (ISO 15765-2).
const LONGEST_ON_CAN: usize = 4095;
/// Longest message before CAN, bytes: on K-line with a length of six bits (ISO 14230-2).
const LONGEST_BEFORE: usize = 63;
/// Data bytes in each message of a counted answer of service 09 before CAN (SAE J1979).
const COUNTED: usize = 4;

/// The bus that the header names; else one of the kind on which addresses have the form of `controller`; else the
/// commonest, CAN with 11-bit identifiers.
pub(super) fn bus_of(header: &Header, controller: Option<Address>) -> Bus {
    let named = header
        .link
        .as_ref()
        .and_then(|link| link.protocol.as_deref());
    let is_named = |bus: &Bus| named == Some(protocol_of(*bus).id());
    let known = Bus::ALL.into_iter().find(is_named);
    known.unwrap_or(match (named, controller) {
        (Some("iso15765-29"), _) | (None, Some(Address::Can29(_))) => Bus::Can29At500,
        (Some("j1850"), _) => Bus::J1850Vpw,
        (Some("kline"), _) | (None, Some(Address::Byte(_))) => Bus::Iso14230Fast,
        _ => Bus::Can11At500,
    })
}

/// The bus as its frames are read.
pub(super) const fn protocol_of(bus: Bus) -> Protocol {
    match bus {
        Bus::J1850Pwm => Protocol::J1850Pwm,
        Bus::J1850Vpw => Protocol::J1850Vpw,
        Bus::Iso9141 => Protocol::Iso9141,
        Bus::Iso14230Slow => Protocol::Iso14230Slow,
        Bus::Iso14230Fast => Protocol::Iso14230Fast,
        Bus::Can11At500 => Protocol::Can11At500,
        Bus::Can29At500 => Protocol::Can29At500,
        Bus::Can11At250 => Protocol::Can11At250,
        Bus::Can29At250 => Protocol::Can29At250,
    }
}

/// Whether a controller can have this address on this bus.
pub(super) const fn fits(bus: Bus, address: Address) -> bool {
    matches!(
        (bus.family(), address),
        (BusFamily::Can11, Address::Can11(_))
            | (BusFamily::Can29, Address::Can29(_))
            | (BusFamily::Kline | BusFamily::J1850, Address::Byte(_))
    )
}

/// Whether a message is short enough for this bus.
pub(super) fn is_short_enough(bus: Bus, payload: &[u8]) -> bool {
    if bus.is_can() {
        payload.len() <= LONGEST_ON_CAN
    } else {
        messages(bus, payload.to_vec())
            .iter()
            .all(|message| message.len() <= LONGEST_BEFORE)
    }
}

/// The messages in which an answer crosses the bus. Before CAN, even information types of service 09 come four bytes at
/// a time with a running count (SAE J1979); in a capture they stand joined, as CAN sends them.
pub(super) fn messages(bus: Bus, payload: Vec<u8>) -> Vec<Vec<u8>> {
    if bus.is_can() {
        return vec![payload];
    }
    let data = match payload.as_slice() {
        [0x49, kind, mask @ ..] if mask.len() == COUNTED && kind % 0x20 == 0 => mask.to_vec(),
        // three bytes of filling before an identification number
        [0x49, 0x02, _, number @ ..] if number.len() == 17 => [&[0, 0, 0], number].concat(),
        [0x49, kind, _, data @ ..] if kind % 2 == 0 && !data.is_empty() => data.to_vec(),
        _ => return vec![payload],
    };
    let kind = payload.get(1).copied().unwrap_or_default();
    let message = |(part, count): (&[u8], u8)| {
        let mut message = [&[0x49, kind, count], part].concat();
        message.resize(3 + COUNTED, 0);
        message
    };
    data.chunks(COUNTED).zip(1..=u8::MAX).map(message).collect()
}

#[cfg(test)]
mod tests {
    use pintle_protocol::bus::{Message, counted};

    use super::*;
    use crate::capture::LinkNote;

    fn header(protocol: Option<&str>) -> Header {
        let link = LinkNote {
            protocol: protocol.map(str::to_owned),
            ..LinkNote::default()
        };
        Header {
            link: Some(link),
            ..Header::default()
        }
    }

    #[test]
    fn the_bus_is_the_one_that_the_header_or_the_addresses_tell() {
        for bus in Bus::ALL {
            let header = header(Some(protocol_of(bus).id()));
            assert_eq!(bus_of(&header, None), bus);
        }
        for (named, address, bus) in [
            (Some("iso15765-29"), None, Bus::Can29At500),
            (Some("kline"), None, Bus::Iso14230Fast),
            (Some("j1850"), None, Bus::J1850Vpw),
            (Some("smoke signals"), None, Bus::Can11At500),
            (None, None, Bus::Can11At500),
            (None, Some("7E8"), Bus::Can11At500),
            (None, Some("18DAF110"), Bus::Can29At500),
            (None, Some("10"), Bus::Iso14230Fast),
        ] {
            let address = address.map(|address: &str| address.parse().unwrap());
            assert_eq!(bus_of(&header(named), address), bus, "{named:?}");
        }
    }

    // What is taken apart here, the link joins to the same again.
    #[test]
    fn counted_answers_are_what_they_were_before_they_were_joined() {
        for (payload, count) in [
            (&b"\x49\x02\x010HRBRVAN300000003"[..], 5),
            (b"\x49\x04\x01VAN3-1.6-MT-0042", 4),
            (b"\x49\x00\xFC\xC0\0\0", 1),
            (b"\x49\x01\x05", 1),
            (b"\x43\x03\x03\x01\x71\0\0", 1),
            (b"\x41\x0C\x0B\xB8", 1),
        ] {
            let sent = messages(Bus::Iso9141, payload.to_vec());
            assert_eq!(sent.len(), count);
            assert!(sent.iter().all(|message| message.len() <= 7));
            let message = |payload| Message {
                from: None,
                payload,
            };
            let (joined, errors) = counted::join(sent.into_iter().map(message).collect());
            assert_eq!(errors, []);
            assert_eq!(joined, [message(payload.to_vec())]);
            let on_can = messages(Bus::Can11At500, payload.to_vec());
            assert_eq!(on_can, [payload.to_vec()]);
        }
    }

    #[test]
    fn a_message_that_no_bus_carries_is_too_long() {
        assert!(is_short_enough(Bus::Can11At500, &[0x41; 4095]));
        assert!(!is_short_enough(Bus::Can11At500, &[0x41; 4096]));
        assert!(!is_short_enough(Bus::Iso9141, &[0x41; 64]));
        assert!(is_short_enough(
            Bus::Iso9141,
            &[0x49, 0x02, 1, 65, 65, 65, 65, 65]
        ));
    }
}
