//! Monitor status (PIDs 01 and 41): lamp, number of codes, which monitors there are and which have
//! finished (SAE J1979, Appendix B).

/// How the engine ignites; it decides which monitors the bits stand for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ignition {
    /// Petrol and gas engines.
    Spark,
    /// Diesel engines.
    Compression,
}

/// The four bytes of PID 01 (since codes were cleared) or PID 41 (this driving cycle; its first
/// byte is always zero).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MonitorStatus([u8; 4]);

/// One monitor that the car has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Monitor {
    /// What it watches.
    pub name: &'static str,
    /// Whether it has finished.
    pub is_complete: bool,
}

/// Monitors that run all the time, by their bits (SAE J1979, PID 01).
const CONTINUOUS: [&str; 3] = ["misfire", "fuel system", "components"];

/// Monitors of an engine with spark ignition that run once a trip, by their bits (SAE J1979, PID 01).
const SPARK: [&str; 8] = [
    "catalyst",
    "heated catalyst",
    "evaporative system",
    "secondary air",
    "gasoline particulate filter",
    "oxygen sensor",
    "oxygen sensor heater",
    "exhaust gas recirculation or valve timing",
];

/// Monitors of an engine with compression ignition that run once a trip, by their bits (SAE J1979, PID 01).
const COMPRESSION: [&str; 8] = [
    "NMHC catalyst",
    "NOx aftertreatment",
    "reserved (bit 2)",
    "boost pressure",
    "reserved (bit 4)",
    "exhaust gas sensor",
    "particulate filter",
    "exhaust gas recirculation or valve timing",
];

impl MonitorStatus {
    /// From the four data bytes.
    pub const fn from_bytes(bytes: [u8; 4]) -> Self {
        Self(bytes)
    }

    /// Whether the malfunction lamp is commanded on (PID 01 only).
    pub const fn is_lamp_on(self) -> bool {
        self.0[0] & 0x80 != 0
    }

    /// Number of confirmed codes, 0 to 127 (PID 01 only).
    pub const fn code_count(self) -> u8 {
        self.0[0] & 0x7F
    }

    /// How the engine ignites.
    pub const fn ignition(self) -> Ignition {
        match self.0[1] & 0x08 {
            0 => Ignition::Spark,
            _ => Ignition::Compression,
        }
    }

    /// The monitors that the car has (for PID 41: that are enabled), continuous ones first.
    pub fn monitors(self) -> impl Iterator<Item = Monitor> {
        let [_, continuous, supported, open] = self.0;
        let names = match self.ignition() {
            Ignition::Spark => SPARK,
            Ignition::Compression => COMPRESSION,
        };
        let first = present(CONTINUOUS, continuous & 0x07, continuous >> 4);
        first.chain(present(names, supported, open))
    }
}

fn present<const N: usize>(
    names: [&'static str; N],
    supported: u8,
    open: u8,
) -> impl Iterator<Item = Monitor> {
    let numbered = (0..8_u8).zip(names);
    let there = numbered.filter(move |(bit, _)| supported >> bit & 1 == 1);
    there.map(move |(bit, name)| Monitor {
        name,
        is_complete: open >> bit & 1 == 0,
    })
}

/// Words for the first byte of PID 01.
pub(super) fn lamp_words(raw: u32) -> String {
    let [.., first] = raw.to_be_bytes();
    let status = MonitorStatus::from_bytes([first, 0, 0, 0]);
    let lamp = if status.is_lamp_on() { "on" } else { "off" };
    format!("check-engine light {lamp}, codes: {}", status.code_count())
}

/// Words for the monitors of PIDs 01 and 41, those that are not complete first.
pub(super) fn monitor_words(raw: u32) -> String {
    let status = MonitorStatus::from_bytes(raw.to_be_bytes());
    let named = |is_complete: bool| {
        let monitors = status.monitors();
        let names = monitors.filter(|monitor| monitor.is_complete == is_complete);
        let names: Vec<&str> = names.map(|monitor| monitor.name).collect();
        names.join(", ")
    };
    let (complete, open) = (named(true), named(false));
    match (complete.is_empty(), open.is_empty()) {
        (true, true) => "no monitors".to_owned(),
        (false, true) => format!("all complete: {complete}"),
        (true, false) => format!("not complete: {open}"),
        (false, false) => format!("not complete: {open}; complete: {complete}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Bits by SAE J1979, Appendix B, PID 01 (from memory): 81 07 65 04 is lamp on, one code, spark
    /// ignition, three continuous monitors done, evaporative system still open.
    #[test]
    fn lamp_count_and_monitors_are_read_from_their_bits() {
        let status = MonitorStatus::from_bytes([0x81, 0x07, 0x65, 0x04]);
        assert!(status.is_lamp_on());
        assert_eq!(status.code_count(), 1);
        assert_eq!(status.ignition(), Ignition::Spark);
        let monitors: Vec<(&str, bool)> = status
            .monitors()
            .map(|monitor| (monitor.name, monitor.is_complete))
            .collect();
        let expected = [
            ("misfire", true),
            ("fuel system", true),
            ("components", true),
            ("catalyst", true),
            ("evaporative system", false),
            ("oxygen sensor", true),
            ("oxygen sensor heater", true),
        ];
        assert_eq!(monitors, expected);
        assert_eq!(lamp_words(0x83), "check-engine light on, codes: 3");
    }

    #[test]
    fn the_ignition_bit_changes_what_the_bits_name() {
        let status = MonitorStatus::from_bytes([0x00, 0x1F, 0x02, 0x02]);
        assert_eq!(status.ignition(), Ignition::Compression);
        let open: Vec<&str> = status
            .monitors()
            .filter(|monitor| !monitor.is_complete)
            .map(|monitor| monitor.name)
            .collect();
        assert_eq!(open, ["misfire", "NOx aftertreatment"]);
        assert_eq!(monitor_words(0), "no monitors");
        assert_eq!(monitor_words(0x0011_0000), "not complete: misfire");
        assert_eq!(
            monitor_words(0x0003_0100),
            "all complete: misfire, fuel system, catalyst"
        );
    }
}
