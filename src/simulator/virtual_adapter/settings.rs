//! What the adapter itself is told: its settings and the words by which they change.

use pintle_protocol::Address;

/// Who the adapter says it is.
pub const IDENTITY: &str = "GENERIC ADAPTER V1.5";
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
        }
    }
}

/// What comes of a command.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Outcome {
    /// One line to say.
    Say(String),
    /// Start over: everything back to its default, then the identity.
    Restart,
    /// Not understood.
    Unknown,
}

impl Settings {
    /// Longest wait for an answer, µs.
    pub fn timeout_us(&self) -> u64 {
        u64::from(self.timeout_steps.max(1)) * 4_000
    }

    /// Carries out a command: `word` is what stands behind the two letters of address, without spaces, in capitals.
    pub fn obey(&mut self, word: &str, volts: f64) -> Outcome {
        let ok = || Outcome::Say("OK".to_owned());
        match word {
            "Z" | "WS" => return Outcome::Restart,
            "D" => {
                // Defaults; the bus that is in use stays.
                let kept = (self.protocol, self.automatic);
                *self = Self::default();
                (self.protocol, self.automatic) = kept;
            }
            "I" => return Outcome::Say(IDENTITY.to_owned()),
            "@1" => return Outcome::Say("SERIAL TO VEHICLE BUS".to_owned()),
            "RV" => return Outcome::Say(format!("{volts:.1}V")),
            "DP" => return Outcome::Say(self.describe()),
            "DPN" => return Outcome::Say(self.number()),
            "IGN" => return Outcome::Say(if volts > 5.0 { "ON" } else { "OFF" }.to_owned()),
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
            self.only_from = answering(header)?;
        } else {
            return None;
        }
        Some(())
    }

    fn describe(&self) -> String {
        let name = match self.protocol {
            0 => return "AUTO".to_owned(),
            6 => "ISO 15765-4 (CAN 11/500)",
            7 => "ISO 15765-4 (CAN 29/500)",
            8 => "ISO 15765-4 (CAN 11/250)",
            9 => "ISO 15765-4 (CAN 29/250)",
            _ => "OTHER",
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

/// Whose answer a request with this header brings: `None` inside for all controllers (functional address).
fn answering(header: &str) -> Option<Option<Address>> {
    let value = u32::from_str_radix(header, 16).ok()?;
    match (header.len(), value) {
        (3, 0x7DF) | (6, 0xDB33F1) => Some(None),
        (3, 0x7E0..=0x7E7) => Some(Some(Address::Can11(value as u16 + 8))),
        (6, _) if value & 0xFF_00FF == 0xDA_00F1 => {
            let controller = (value >> 8) & 0xFF;
            Some(Some(Address::Can29(0x18DA_F100 | controller)))
        }
        _ => None,
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
            assert_eq!(settings.obey(word, 12.0), ok, "{word}");
        }
        assert_eq!(settings.timeout_us(), 0x19 * 4_000);
        assert_eq!(settings.obey("DPN", 12.0), Outcome::Say("A6".to_owned()));
        assert_eq!(settings.obey("RV", 12.34), Outcome::Say("12.3V".to_owned()));
        for word in [
            "", "X", "E", "ST", "STXY", "SP", "SPX", "SH12", "CRAXYZ", "E2",
        ] {
            assert_eq!(settings.obey(word, 12.0), Outcome::Unknown, "{word}");
        }
        assert_eq!(settings.obey("D", 12.0), ok);
        assert!(settings.echo && settings.protocol == 6);
    }
}
