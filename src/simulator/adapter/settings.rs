//! The adapter's own settings and the words by which they change.

use pintle_protocol::Address;

use super::wire;
use crate::simulator::bus::{Bus, BusFamily};

/// Longest wait for an answer after reset, in steps of 4 ms.
const TIMEOUT_STEPS: u8 = 0x32;

/// Everything that can be set.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Settings {
    /// Sends received bytes back.
    pub echo: bool,
    /// Ends lines with CR LF.
    pub linefeeds: bool,
    /// Puts a space after each byte.
    pub spaces: bool,
    /// Prints headers and control bytes.
    pub headers: bool,
    /// Takes control bytes off, with headers off.
    pub formatting: bool,
    /// Longest wait for an answer, in steps of 4 ms.
    pub timeout_steps: u8,
    /// 0 waits the whole time after the last answer, 1 and 2 adapt.
    pub adaptive: u8,
    /// Bus number; 0 when it is yet to be found.
    pub protocol: u8,
    /// Whether the bus is found by itself.
    pub automatic: bool,
    /// Answers only from this controller.
    pub only_from: Option<Address>,
    /// Header of requests as it was set, two bytes for 11-bit CAN, else three; `None` for the bus's own.
    pub header: Option<Vec<u8>>,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            echo: true,
            linefeeds: false,
            spaces: true,
            headers: false,
            formatting: true,
            timeout_steps: TIMEOUT_STEPS,
            adaptive: 1,
            protocol: 0,
            automatic: true,
            only_from: None,
            header: None,
        }
    }
}

/// Who is to answer a request.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Target {
    /// Every controller.
    All,
    /// This one.
    One(Address),
    /// No controller has the address that the header names.
    Nobody,
}

/// The adapter's number and words for each bus.
const BUSES: [(u8, Bus, &str); 9] = [
    (1, Bus::J1850Pwm, "SAE J1850 PWM"),
    (2, Bus::J1850Vpw, "SAE J1850 VPW"),
    (3, Bus::Iso9141, "ISO 9141-2"),
    (4, Bus::Iso14230Slow, "ISO 14230-4 (KWP 5BAUD)"),
    (5, Bus::Iso14230Fast, "ISO 14230-4 (KWP FAST)"),
    (6, Bus::Can11At500, "ISO 15765-4 (CAN 11/500)"),
    (7, Bus::Can29At500, "ISO 15765-4 (CAN 29/500)"),
    (8, Bus::Can11At250, "ISO 15765-4 (CAN 11/250)"),
    (9, Bus::Can29At250, "ISO 15765-4 (CAN 29/250)"),
];

/// The adapter's number for a bus.
pub fn number_of(bus: Bus) -> u8 {
    let row = BUSES.iter().find(|(_, other, _)| *other == bus);
    row.map_or(0, |(number, ..)| *number)
}

/// What comes of a command.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Outcome {
    /// One line to say.
    Say(String),
    /// Say who it is.
    Introduce,
    /// Start over: everything back to its default, then say who it is.
    Restart,
    /// Not understood.
    Unknown,
}

impl Settings {
    /// Longest wait for an answer, µs.
    pub fn timeout_us(&self) -> u64 {
        u64::from(self.timeout_steps.max(1)) * 4_000
    }

    /// Carries out a command: `word` is what stands behind the two letters of address, without spaces, in capitals. An
    /// adapter that cannot measure the supply does not know the command for it.
    pub fn obey(&mut self, word: &str, volts: Option<f64>) -> Outcome {
        let ok = || Outcome::Say("OK".to_owned());
        match word {
            "Z" | "WS" => return Outcome::Restart,
            "D" => {
                // Defaults; the bus that is in use stays.
                let kept = (self.protocol, self.automatic);
                *self = Self::default();
                (self.protocol, self.automatic) = kept;
            }
            "I" => return Outcome::Introduce,
            "@1" => return Outcome::Say("SERIAL TO VEHICLE BUS".to_owned()),
            "RV" => {
                let said = volts.map(|volts| Outcome::Say(format!("{volts:.1}V")));
                return said.unwrap_or(Outcome::Unknown);
            }
            "DP" => return Outcome::Say(self.describe()),
            "DPN" => return Outcome::Say(self.number()),
            "IGN" => {
                return Outcome::Say(
                    if volts.is_none_or(|volts| volts > 5.0) {
                        "ON"
                    } else {
                        "OFF"
                    }
                    .to_owned(),
                );
            }
            "E0" | "E1" => self.echo = word == "E1",
            "L0" | "L1" => self.linefeeds = word == "L1",
            "S0" | "S1" => self.spaces = word == "S1",
            "H0" | "H1" => self.headers = word == "H1",
            "CAF0" | "CAF1" => self.formatting = word == "CAF1",
            "AT0" => self.adaptive = 0,
            "AT1" => self.adaptive = 1,
            "AT2" => self.adaptive = 2,
            "AR" | "CRA" => self.only_from = None,
            "PC" => self.protocol = if self.automatic { 0 } else { self.protocol },
            "AL" | "NL" | "M0" | "M1" | "R1" | "CFC1" => {}
            _ => {
                return self
                    .obey_with_value(word)
                    .map_or(Outcome::Unknown, |()| ok());
            }
        }
        ok()
    }

    fn obey_with_value(&mut self, word: &str) -> Option<()> {
        let value = |prefix: &str| word.strip_prefix(prefix);
        if let Some(steps) = value("ST") {
            self.timeout_steps = two_digits(steps)?;
            if self.timeout_steps == 0 {
                self.timeout_steps = TIMEOUT_STEPS;
            }
        } else if let Some(number) = value("SP").or_else(|| value("TP")) {
            (self.protocol, self.automatic) = protocol(number)?;
        } else if let Some(address) = value("CRA") {
            self.only_from = Some(address.parse().ok()?);
        } else if let Some(header) = value("SH") {
            self.header = Some(header_bytes(header)?);
        } else {
            return None;
        }
        Some(())
    }

    /// The bus in use.
    pub fn bus(&self) -> Option<Bus> {
        let row = BUSES.iter().find(|(number, ..)| *number == self.protocol);
        row.map(|(_, bus, _)| *bus)
    }

    fn describe(&self) -> String {
        let row = BUSES.iter().find(|(number, ..)| *number == self.protocol);
        let name = match row {
            _ if self.protocol == 0 => return "AUTO".to_owned(),
            Some((.., name)) => name,
            None => "OTHER",
        };
        format!("{}{name}", if self.automatic { "AUTO, " } else { "" })
    }

    fn number(&self) -> String {
        format!(
            "{}{:X}",
            if self.automatic { "A" } else { "" },
            self.protocol
        )
    }
}

fn two_digits(text: &str) -> Option<u8> {
    (text.len() == 2).then(|| u8::from_str_radix(text, 16).ok())?
}

/// `6`: that bus; `0`: find it; `A6`: that one first, others if it fails.
fn protocol(text: &str) -> Option<(u8, bool)> {
    let (digit, automatic) = match text.strip_prefix('A') {
        Some(digit) => (digit, true),
        None => (text, false),
    };
    let number = (digit.len() == 1).then(|| u8::from_str_radix(digit, 16).ok())??;
    (number <= 0xC).then_some((number, automatic || number == 0))
}

/// `7E0`: two bytes; `C233F1`: three.
fn header_bytes(digits: &str) -> Option<Vec<u8>> {
    let value = u32::from_str_radix(digits, 16).ok()?;
    let [_, high, middle, low] = value.to_be_bytes();
    match digits.len() {
        3 => Some(vec![middle, low]),
        6 => Some(vec![high, middle, low]),
        _ => None,
    }
}

impl Settings {
    /// Header of a request with this many bytes of data, and who is to answer it (SAE J1979, SAE J2178-1).
    pub fn target(&self, bus: Bus, data: usize) -> (Vec<u8>, Target) {
        let usual = wire::request_header(bus, data);
        let mut header = match (&self.header, bus.family()) {
            (None, _) => return (usual, Target::All),
            (Some(header), BusFamily::Can29) => [&[0x18], &header[..]].concat(),
            (Some(header), _) => header.clone(),
        };
        if let (Bus::Iso14230Slow | Bus::Iso14230Fast, Some(format)) = (bus, header.first_mut()) {
            *format = *format & 0xC0 | data as u8;
        }
        let target = match (bus.family(), header.as_slice()) {
            _ if header == usual => Target::All,
            (BusFamily::Can11, [0x07, low @ 0xE0..=0xE7]) => {
                Target::One(Address::Can11(0x700 | u16::from(low + 8)))
            }
            (BusFamily::Can29, [0x18, 0xDA, controller, 0xF1]) => {
                Target::One(Address::Can29(0x18DA_F100 | u32::from(*controller)))
            }
            (BusFamily::Kline, [0x80..=0xBF, controller, 0xF1])
            | (BusFamily::J1850, [0x6C | 0xC4, controller, 0xF1]) => {
                Target::One(Address::Byte(*controller))
            }
            _ => Target::Nobody,
        };
        (header, target)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn settings_change_by_their_words_and_unknown_words_are_refused() {
        let mut settings = Settings::default();
        let ok = Outcome::Say("OK".to_owned());
        for word in [
            "E0", "L0", "S0", "H1", "AT2", "ST19", "SPA6", "SH7E0", "SHDA10F1",
        ] {
            assert_eq!(settings.obey(word, Some(12.0)), ok, "{word}");
        }
        assert_eq!(settings.timeout_us(), 0x19 * 4_000);
        assert_eq!(
            settings.obey("DPN", Some(12.0)),
            Outcome::Say("A6".to_owned())
        );
        assert_eq!(
            settings.obey("RV", Some(12.34)),
            Outcome::Say("12.3V".to_owned())
        );
        for word in [
            "", "X", "E", "ST", "STXY", "SP", "SPX", "SH12", "SHXYZ", "CRAXYZ", "E2",
        ] {
            assert_eq!(settings.obey(word, Some(12.0)), Outcome::Unknown, "{word}");
        }
        assert_eq!(settings.obey("D", Some(12.0)), ok);
        assert!(settings.echo && settings.protocol == 6);
    }
    // Functional and physical headers of ISO 15765-4, ISO 14230-4 and SAE J2178-1.
    #[test]
    fn a_header_says_who_is_to_answer() {
        for (bus, word, header, target) in [
            (Bus::Can11At500, "", &[0x07, 0xDF][..], Target::All),
            (
                Bus::Can11At500,
                "SH7E1",
                &[0x07, 0xE1],
                Target::One(Address::Can11(0x7E9)),
            ),
            (
                Bus::Can29At250,
                "SHDB33F1",
                &[0x18, 0xDB, 0x33, 0xF1],
                Target::All,
            ),
            (
                Bus::Can29At250,
                "SHDA10F1",
                &[0x18, 0xDA, 0x10, 0xF1],
                Target::One(Address::Can29(0x18DA_F110)),
            ),
            (
                Bus::Iso14230Fast,
                "SHC233F1",
                &[0xC1, 0x33, 0xF1],
                Target::All,
            ),
            (
                Bus::Iso14230Slow,
                "SH8018F1",
                &[0x81, 0x18, 0xF1],
                Target::One(Address::Byte(0x18)),
            ),
            (Bus::Iso9141, "SH686AF1", &[0x68, 0x6A, 0xF1], Target::All),
            (Bus::Iso9141, "SH7DF", &[0x07, 0xDF], Target::Nobody),
            (Bus::J1850Pwm, "SH616AF1", &[0x61, 0x6A, 0xF1], Target::All),
            (
                Bus::J1850Vpw,
                "SH6C10F1",
                &[0x6C, 0x10, 0xF1],
                Target::One(Address::Byte(0x10)),
            ),
        ] {
            let mut settings = Settings::default();
            settings.obey(word, Some(12.0));
            assert_eq!(
                settings.target(bus, 1),
                (header.to_vec(), target),
                "{bus:?} {word}"
            );
        }
    }
}
