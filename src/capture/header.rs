//! The two comment lines that open a capture: format version, then one JSON object.
//!
//! What is not known here is kept and written back, never refused: a later program may know it.

use serde::{Serialize, Serializer, de::DeserializeOwned, ser::SerializeMap};
use serde_json::{Map, Value};

use super::error::CaptureError;
use crate::{
    identity::{CarIdentity, SupportBlock},
    vehicle::Vehicle,
};

/// The format version that this program writes, and the only one that it reads.
pub const VERSION: u64 = 1;

/// The third line: the names of the columns.
pub const COLUMNS: &str = "t_us,kind,ecu,request,response";

/// Beginning of the first line, before the format version.
const FIRST_LINE: &str = "# capture ";

/// Where a recording comes from.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Header {
    /// When `t_us` was 0; unknown for tables of other loggers that do not say.
    pub started: Option<jiff::Timestamp>,
    /// Program and version that wrote it.
    pub program: Option<String>,
    /// The vehicle file, when there was one.
    pub vehicle: Option<Vehicle>,
    /// The way to the car.
    pub link: Option<LinkNote>,
    /// What the times are counted by (`monotonic-us`).
    pub clock: Option<String>,
    /// Entries that this program does not know.
    pub other: Map<String, Value>,
    /// Entries of the vehicle that this program does not know.
    pub vehicle_other: Map<String, Value>,
}

/// The way to the car, as it was when recording began.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct LinkNote {
    /// The bus protocol (`iso15765-11-500`).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub protocol: Option<String>,
    /// What the adapter calls itself.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub adapter: Option<String>,
    /// Baud rate of the serial line.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub baud: Option<u32>,
    /// Address of the controller that runs the engine, as printed on the bus (`7E8`).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub engine_controller: Option<String>,
    /// What that controller says it supports.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub supported: Vec<SupportBlock>,
    /// Entries that this program does not know.
    #[serde(flatten)]
    pub other: Map<String, Value>,
}

impl Header {
    /// A header for a recording by this program that starts now.
    pub fn starting(started: jiff::Timestamp) -> Self {
        Self {
            started: Some(started),
            clock: Some("monotonic-us".to_owned()),
            ..Self::by_this_program()
        }
    }

    /// A header that names only this program, for data whose start is not known.
    pub fn by_this_program() -> Self {
        Self {
            program: Some(concat!("pintle ", env!("CARGO_PKG_VERSION")).to_owned()),
            ..Self::default()
        }
    }

    /// What it says of the car's identity.
    pub fn car(&self) -> CarIdentity {
        let link = self.link.as_ref();
        let vehicle = self.vehicle.as_ref();
        CarIdentity {
            engine_controller: link.and_then(|link| link.engine_controller.clone()),
            supported: link.map(|link| link.supported.clone()).unwrap_or_default(),
            label: vehicle.and_then(|vehicle| vehicle.label.clone()),
            asked_for_all: link.is_some(),
            ..CarIdentity::default()
        }
    }

    /// The opening three lines of a capture.
    pub fn to_lines(&self) -> String {
        // A map of texts and finite numbers always turns into JSON; JSON text never holds a raw line end.
        let json = serde_json::to_string(self).unwrap_or_else(|_| "{}".to_owned());
        format!("{FIRST_LINE}{VERSION}\n# {json}\n{COLUMNS}\n")
    }

    /// Reads the second line's JSON object; `None` when it is none.
    pub fn from_json_line(line: &str) -> Option<Self> {
        let json = line.strip_prefix('#')?.trim();
        let mut map: Map<String, Value> = serde_json::from_str(json).ok()?;
        let (vehicle, vehicle_other) = match map.get("vehicle") {
            Some(Value::Object(_)) => vehicle_from(take(&mut map, "vehicle").unwrap_or_default()),
            _ => (None, Map::new()),
        };
        let link = take::<Map<String, Value>>(&mut map, "link").map(LinkNote::from_map);
        Some(Self {
            started: take(&mut map, "started"),
            program: take(&mut map, "program"),
            clock: take(&mut map, "clock"),
            vehicle,
            link,
            vehicle_other,
            other: map,
        })
    }
}

/// Checks the first line for the format version.
pub(super) fn check_first_line(line: &str) -> Result<(), CaptureError> {
    let number = line.strip_prefix(FIRST_LINE).map(str::trim);
    match number.and_then(|text| text.parse().ok()) {
        Some(VERSION) => Ok(()),
        Some(version) => Err(CaptureError::LaterVersion(version)),
        None if looks_like_table(line) => {
            let names: Vec<&str> = line.split([',', ';', '\t']).map(str::trim).collect();
            Err(CaptureError::ForeignTable(shortened(&names.join(", "))))
        }
        None => Err(CaptureError::NotACapture(shortened(line))),
    }
}

fn looks_like_table(line: &str) -> bool {
    let fields = line.split([',', ';', '\t']);
    let names = fields.filter(|name| !name.trim().is_empty());
    !line.starts_with('#') && names.count() >= 2
}

/// The beginning of a text, short enough for one line of a terminal.
fn shortened(text: &str) -> String {
    /// Largest number of characters of a text in an error message (assumed).
    const LONGEST: usize = 60;
    match text.char_indices().nth(LONGEST) {
        Some((end, _)) => format!("{}…", text.get(..end).unwrap_or_default()),
        None => text.to_owned(),
    }
}

/// Takes an entry out of the map when it is of the expected type; otherwise leaves it among the unknown ones.
fn take<T: DeserializeOwned>(map: &mut Map<String, Value>, key: &str) -> Option<T> {
    let value = serde_json::from_value(map.get(key)?.clone()).ok()?;
    map.remove(key);
    Some(value)
}

/// Splits a vehicle object into the entries that this program knows and the others.
fn vehicle_from(entries: Map<String, Value>) -> (Option<Vehicle>, Map<String, Value>) {
    let known = |entry: (&String, &Value)| {
        let alone = Map::from_iter([(entry.0.clone(), entry.1.clone())]);
        serde_json::from_value::<Vehicle>(Value::Object(alone)).is_ok()
    };
    let (kept, other): (Map<_, _>, Map<_, _>) = entries
        .into_iter()
        .partition(|(key, value)| known((key, value)));
    (serde_json::from_value(Value::Object(kept)).ok(), other)
}

impl LinkNote {
    fn from_map(mut map: Map<String, Value>) -> Self {
        Self {
            protocol: take(&mut map, "protocol"),
            adapter: take(&mut map, "adapter"),
            baud: take(&mut map, "baud"),
            engine_controller: take(&mut map, "engine_controller"),
            supported: take(&mut map, "supported").unwrap_or_default(),
            other: map,
        }
    }
}

/// A vehicle together with the entries that this program does not know.
#[derive(Serialize)]
struct WholeVehicle<'a> {
    #[serde(flatten)]
    known: &'a Vehicle,
    #[serde(flatten)]
    other: &'a Map<String, Value>,
}

impl Serialize for Header {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        if let Some(started) = &self.started {
            map.serialize_entry("started", started)?;
        }
        if let Some(program) = &self.program {
            map.serialize_entry("program", program)?;
        }
        if let Some(known) = &self.vehicle {
            let other = &self.vehicle_other;
            map.serialize_entry("vehicle", &WholeVehicle { known, other })?;
        }
        if let Some(link) = &self.link {
            map.serialize_entry("link", link)?;
        }
        if let Some(clock) = &self.clock {
            map.serialize_entry("clock", clock)?;
        }
        for (key, value) in &self.other {
            map.serialize_entry(key, value)?;
        }
        map.end()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn second_line(header: &Header) -> String {
        header.to_lines().lines().nth(1).unwrap().to_owned()
    }

    #[test]
    fn unknown_entries_survive_reading_and_writing() {
        let line = r#"# {"started":"2026-11-25T08:00:00Z","program":"later 9","vehicle":{"label":"van 3","cylinders":4,"colour":"white"},"link":{"protocol":"iso15765-11-500","baud":38400,"cable":"short"},"clock":"monotonic-us","weather":{"rain":true}}"#;
        let header = Header::from_json_line(line).unwrap();
        assert_eq!(header.vehicle.as_ref().unwrap().cylinders, Some(4));
        assert_eq!(header.link.as_ref().unwrap().baud, Some(38400));
        assert_eq!(second_line(&header), line);
        assert_eq!(Header::from_json_line(&second_line(&header)), Some(header));
    }

    #[test]
    fn an_entry_of_an_unexpected_type_is_kept_aside() {
        let header = Header::from_json_line(r#"# {"started":17,"link":"none"}"#).unwrap();
        assert_eq!(header.started, None);
        assert_eq!(header.link, None);
        assert_eq!(second_line(&header), r#"# {"link":"none","started":17}"#);
    }

    #[test]
    fn the_first_line_tells_version_table_and_neither() {
        assert!(check_first_line("# capture 1").is_ok());
        let later = check_first_line("# capture 2").unwrap_err();
        assert!(matches!(later, CaptureError::LaterVersion(2)));
        let table = check_first_line("time;rpm;STFT B1").unwrap_err();
        assert!(table.to_string().contains("time, rpm, STFT B1"), "{table}");
        let neither = check_first_line("Dear reader").unwrap_err();
        assert!(matches!(neither, CaptureError::NotACapture(_)));
    }
}
