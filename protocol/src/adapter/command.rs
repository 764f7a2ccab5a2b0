//! What we say to the adapter. All of its command words live here.

use crate::{
    bus::{Framing, Protocol, hex},
    service::Services,
};

/// Which parameters are supported: item 00 of service 01, or its identifier. Every car answers one
/// of the two (SAE J1979, SAE J1979-2).
const fn supported_parameters(services: Services) -> &'static [u8] {
    match services {
        Services::SaeJ1979 => &[0x01, 0x00],
        Services::Iso14229 => &[0x22, 0xF4, 0x00],
    }
}

/// One thing to say. Every command is answered by one prompt.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Command {
    /// Start over with the adapter's own defaults.
    Reset,
    /// Start over without the self-test.
    SoftReset,
    /// Stop sending back what we say.
    EchoOff,
    /// End lines with carriage return alone.
    LinefeedsOff,
    /// Print bytes without spaces.
    SpacesOff,
    /// Print header and checksum of each frame.
    HeadersOn,
    /// Let the adapter learn how long this car takes to answer.
    AdaptiveTiming,
    /// Say name and version.
    Identify,
    /// Measure the supply voltage.
    Voltage,
    /// Find out the bus at the next request.
    AutomaticProtocol,
    /// Use this bus.
    FixedProtocol(Protocol),
    /// A request that each car with these services answers, so that the adapter finds and wakes the
    /// bus.
    Search(Services),
    /// Say which bus was found.
    ProtocolNumber,
    /// A line end alone: stops whatever the adapter is doing.
    Flush,
    /// A request to the car.
    Request {
        /// Service and what follows it.
        bytes: Vec<u8>,
        /// After this many answer lines (1 to 15) the adapter need not wait for more.
        expected_lines: Option<u8>,
    },
}

impl Command {
    /// The text to send, without line end.
    pub fn text(&self) -> String {
        match self {
            Self::Reset => "ATZ".into(),
            Self::SoftReset => "ATWS".into(),
            Self::EchoOff => "ATE0".into(),
            Self::LinefeedsOff => "ATL0".into(),
            Self::SpacesOff => "ATS0".into(),
            Self::HeadersOn => "ATH1".into(),
            Self::AdaptiveTiming => "ATAT1".into(),
            Self::Identify => "ATI".into(),
            Self::Voltage => "ATRV".into(),
            Self::AutomaticProtocol => "ATSP0".into(),
            Self::FixedProtocol(protocol) => format!("ATSP{}", number_of(*protocol)),
            Self::Search(services) => hex::encode(supported_parameters(*services)),
            Self::ProtocolNumber => "ATDPN".into(),
            Self::Flush => String::new(),
            Self::Request {
                bytes,
                expected_lines,
            } => {
                let mut text = hex::encode(bytes);
                if let Some(lines @ 1..=15) = expected_lines {
                    text.push_str(&format!("{lines:X}"));
                }
                text
            }
        }
    }

    /// What the car is asked; nothing for commands that concern the adapter alone.
    pub fn request(&self) -> &[u8] {
        match self {
            Self::Search(services) => supported_parameters(*services),
            Self::Request { bytes, .. } => bytes,
            _ => &[],
        }
    }

    /// The bytes to send: the text and a carriage return.
    pub fn bytes(&self) -> Vec<u8> {
        let mut bytes = self.text().into_bytes();
        bytes.push(b'\r');
        bytes
    }

    /// What the command sets, in plain words; nothing for commands that are no setting.
    pub fn setting(&self) -> Option<&'static str> {
        match self {
            Self::EchoOff => Some("echo off"),
            Self::LinefeedsOff => Some("line feeds off"),
            Self::SpacesOff => Some("spaces off"),
            Self::HeadersOn => Some("headers on"),
            Self::AdaptiveTiming => Some("adaptive timing"),
            Self::AutomaticProtocol => Some("automatic protocol"),
            Self::FixedProtocol(_) => Some("fixed protocol"),
            _ => None,
        }
    }
}

/// The adapter's number for a bus; 0 lets it find out.
fn number_of(protocol: Protocol) -> char {
    match protocol {
        Protocol::J1850Pwm => '1',
        Protocol::J1850Vpw => '2',
        Protocol::Iso9141 => '3',
        Protocol::Iso14230Slow => '4',
        Protocol::Iso14230Fast => '5',
        Protocol::Can11At500 => '6',
        Protocol::Can29At500 => '7',
        Protocol::Can11At250 => '8',
        Protocol::Can29At250 => '9',
        Protocol::Unnamed(_) => '0',
    }
}

/// Reads the answer to [`Command::ProtocolNumber`]: a digit, with `A` before it when the adapter
/// chose by itself.
pub fn protocol_of(answer: &str) -> Option<Protocol> {
    let answer = answer.trim().to_ascii_uppercase();
    let number = answer.strip_prefix('A').unwrap_or(&answer);
    match number {
        "1" => Some(Protocol::J1850Pwm),
        "2" => Some(Protocol::J1850Vpw),
        "3" => Some(Protocol::Iso9141),
        "4" => Some(Protocol::Iso14230Slow),
        "5" => Some(Protocol::Iso14230Fast),
        "6" => Some(Protocol::Can11At500),
        "7" => Some(Protocol::Can29At500),
        "8" => Some(Protocol::Can11At250),
        "9" => Some(Protocol::Can29At250),
        _ => None,
    }
}

/// Every framing, the most common first: the order in which an unnamed bus is tried.
pub const FRAMINGS: [Framing; 4] = [
    Framing::Can11,
    Framing::Can29,
    Framing::Kline,
    Framing::J1850,
];

/// Reads the answer to [`Command::Voltage`], in volts: `12.6V`, also with a space or without the
/// letter.
pub fn voltage_of(answer: &str) -> Option<f64> {
    let number = answer.trim().trim_end_matches(['V', 'v']).trim_end();
    let plain = number.bytes().all(|b| b.is_ascii_digit() || b == b'.');
    let volts: f64 = number.parse().ok().filter(|_| plain)?;
    (0.0..100.0).contains(&volts).then_some(volts)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_request_is_hex_with_the_number_of_lines_behind() {
        let request = |expected_lines| Command::Request {
            bytes: vec![0x01, 0x0C, 0x06],
            expected_lines,
        };
        assert_eq!(request(None).bytes(), b"010C06\r");
        assert_eq!(request(Some(2)).bytes(), b"010C062\r");
        assert_eq!(request(Some(15)).bytes(), b"010C06F\r");
        assert_eq!(request(Some(16)).bytes(), b"010C06\r");
        assert_eq!(Command::Flush.bytes(), b"\r");
    }

    #[test]
    fn protocol_numbers_read_back() {
        for digit in '1'..='9' {
            let protocol = protocol_of(&digit.to_string()).unwrap();
            assert_eq!(number_of(protocol), digit);
            assert_eq!(protocol_of(&format!("A{digit}")), Some(protocol));
        }
        for answer in ["", "A", "0", "A0", "B", "?", "66"] {
            assert_eq!(protocol_of(answer), None, "{answer:?}");
        }
    }

    #[test]
    fn voltages_are_read_and_nonsense_is_not() {
        assert_eq!(voltage_of("12.6V"), Some(12.6));
        assert_eq!(voltage_of(" 11.9 v"), Some(11.9));
        assert_eq!(voltage_of("14.0"), Some(14.0));
        for answer in ["", "?", "V", "-1V", "infV", "1e9", "999V"] {
            assert_eq!(voltage_of(answer), None, "{answer:?}");
        }
    }
}
