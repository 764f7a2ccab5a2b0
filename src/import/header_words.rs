//! Words by which column headers plainly say a quantity of SAE J1979.
//!
//! A header says a quantity when it holds all the required words of one entry and otherwise only words that this entry
//! or [`FILLERS`] allow. Wordings are common ones of the trade and of the standard's own names.

/// A way of saying a quantity: request, required words, allowed words.
pub(super) struct Saying {
    /// Service and identifier in hex.
    pub request: &'static str,
    /// Words that must be there.
    pub required: &'static [&'static str],
    /// Words that may be there.
    pub allowed: &'static [&'static str],
}

/// Words that say nothing about which quantity it is.
pub(super) const FILLERS: &[&str] = &[
    "the", "of", "value", "current", "actual", "obd", "pid", "ecu", "and",
];

/// Spellings that stand for other words.
pub(super) const SAME: &[(&str, &[&str])] = &[
    ("stft", &["short", "fuel", "trim"]),
    ("ltft", &["long", "fuel", "trim"]),
    ("shrtft", &["short", "fuel", "trim"]),
    ("longft", &["long", "fuel", "trim"]),
    ("shortterm", &["short", "term"]),
    ("longterm", &["long", "term"]),
    ("ect", &["engine", "coolant", "temperature"]),
    ("clt", &["coolant", "temperature"]),
    ("iat", &["intake", "air", "temperature"]),
    ("act", &["intake", "air", "temperature"]),
    ("aat", &["ambient", "air", "temperature"]),
    ("maf", &["mass", "air", "flow"]),
    ("airflow", &["air", "flow"]),
    ("map", &["manifold", "absolute", "pressure"]),
    ("imap", &["manifold", "absolute", "pressure"]),
    ("baro", &["barometric"]),
    ("barometer", &["barometric", "pressure"]),
    ("tps", &["throttle", "position"]),
    ("vss", &["vehicle", "speed"]),
    ("evap", &["evaporative"]),
    ("temp", &["temperature"]),
    ("press", &["pressure"]),
    ("pos", &["position"]),
    ("cmd", &["commanded"]),
    ("equiv", &["equivalence"]),
    ("calc", &["calculated"]),
    ("abs", &["absolute"]),
    ("adv", &["advance"]),
    ("dtc", &["codes"]),
    ("dtcs", &["codes"]),
    ("dist", &["distance"]),
    ("cat", &["catalyst"]),
    ("volts", &["voltage"]),
    ("traveled", &["travelled"]),
    ("warmups", &["warm", "ups"]),
    ("lambda", &["equivalence", "ratio"]),
    ("runtime", &["run", "time"]),
];

macro_rules! sayings {
    ($($request:literal: $($required:literal)+ $(, may: $($allowed:literal)+)?;)+) => {
        &[$(Saying {
            request: $request,
            required: &[$($required),+],
            allowed: &[$($($allowed),+)?],
        }),+]
    };
}

/// All sayings. A bank or sensor and its number are one word.
pub(super) const SAYINGS: &[Saying] = sayings! {
    "0104": "load", may: "engine" "calculated";
    "0105": "coolant", may: "engine" "temperature" "water";
    "0106": "short" "trim" "bank1", may: "term" "fuel";
    "0106": "short" "trim", may: "term" "fuel";
    "0107": "long" "trim" "bank1", may: "term" "fuel";
    "0107": "long" "trim", may: "term" "fuel";
    "0108": "short" "trim" "bank2", may: "term" "fuel";
    "0109": "long" "trim" "bank2", may: "term" "fuel";
    "010A": "fuel" "pressure", may: "gauge";
    "010B": "manifold" "pressure", may: "intake" "absolute";
    "010C": "rpm", may: "engine" "speed";
    "010C": "engine" "speed";
    "010C": "speed";
    "010D": "vehicle" "speed", may: "sensor" "road";
    "010D": "road" "speed";
    "010D": "speed";
    "010E": "timing" "advance", may: "ignition" "spark";
    "010E": "spark" "advance", may: "ignition";
    "010E": "ignition" "advance";
    "010E": "ignition" "timing";
    "010F": "intake" "temperature", may: "air";
    "0110": "air" "flow", may: "mass" "rate" "intake" "sensor";
    "0111": "throttle", may: "position" "absolute";
    "011F": "run" "time", may: "engine" "since" "start";
    "011F": "time" "since" "engine" "start";
    "0121": "distance" "check" "engine" "light", may: "travelled" "with" "while" "on" "is";
    "0121": "distance" "mil", may: "travelled" "with" "while" "on" "is" "activated";
    "012E": "purge", may: "commanded" "evaporative";
    "012F": "fuel" "level", may: "tank" "input";
    "012F": "fuel" "tank", may: "level" "input";
    "0130": "warm" "ups", may: "since" "codes" "code" "trouble" "cleared" "clear";
    "0131": "distance" "since" "cleared", may: "travelled" "codes" "trouble" "code";
    "0133": "barometric", may: "pressure" "absolute";
    "013C": "catalyst" "bank1" "sensor1", may: "temperature";
    "013D": "catalyst" "bank2" "sensor1", may: "temperature";
    "013E": "catalyst" "bank1" "sensor2", may: "temperature";
    "013F": "catalyst" "bank2" "sensor2", may: "temperature";
    "0142": "module" "voltage", may: "control";
    "0143": "absolute" "load", may: "engine";
    "0144": "equivalence" "ratio" "commanded", may: "fuel" "air";
    "0145": "relative" "throttle", may: "position";
    "0146": "ambient", may: "air" "temperature";
    "0147": "throttle" "b", may: "absolute" "position";
    "0148": "throttle" "c", may: "absolute" "position";
    "0149": "pedal" "d", may: "accelerator" "position";
    "014A": "pedal" "e", may: "accelerator" "position";
    "014B": "pedal" "f", may: "accelerator" "position";
    "014C": "commanded" "throttle", may: "actuator" "control";
    "014D": "time" "check" "engine" "light", may: "run" "with" "while" "on" "is";
    "014D": "time" "mil", may: "run" "with" "while" "on" "is" "activated" "engine";
    "014E": "time" "since" "cleared", may: "codes" "trouble" "code";
    "0151": "fuel" "type";
    "0152": "ethanol", may: "fuel";
    "0152": "alcohol", may: "fuel";
    "015C": "oil" "temperature", may: "engine";
    "015E": "fuel" "rate", may: "engine";
};
