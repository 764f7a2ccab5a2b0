//! Words for the bit-coded and enumerated parameters of service 01 (SAE J1979, Appendix B).

/// Words for one byte of PID 03: the status of one fuel system.
pub fn fuel_system(raw: u32) -> String {
    let words = match raw {
        // not running, or there is no such system
        0 => "off",
        0x01 => "open loop, not ready yet",
        0x02 => "closed loop",
        // under power, or rolling with the fuel cut off
        0x04 => "open loop, driving conditions",
        0x08 => "open loop, fault",
        // for example with one sensor only
        0x10 => "closed loop, fault",
        other => return format!("undefined ({other:02X})"),
    };
    words.to_owned()
}

/// Words for PID 12: where secondary air goes.
pub fn secondary_air(raw: u32) -> String {
    let text = match raw {
        1 => "upstream of the catalyst",
        2 => "downstream of the catalyst",
        4 => "to the outside or off",
        8 => "pump on for diagnosis",
        _ => return format!("undefined ({raw:02X})"),
    };
    text.to_owned()
}

fn set_bits(raw: u32, name: impl Fn(u32) -> String) -> String {
    let names: Vec<String> = (0..8).filter(|bit| raw >> bit & 1 == 1).map(name).collect();
    match names.as_slice() {
        [] => "none".to_owned(),
        names => names.join(", "),
    }
}

/// Words for PID 13: oxygen sensors of two banks with four sensors each.
pub fn sensors_two_banks(raw: u32) -> String {
    set_bits(raw, |bit| {
        format!("bank {} sensor {}", bit / 4 + 1, bit % 4 + 1)
    })
}

/// Words for PID 1D: oxygen sensors of four banks with two sensors each.
pub fn sensors_four_banks(raw: u32) -> String {
    set_bits(raw, |bit| {
        format!("bank {} sensor {}", bit / 2 + 1, bit % 2 + 1)
    })
}

/// Words for PID 1C: which diagnostic regulation the car was built to.
pub fn regulation(raw: u32) -> String {
    let text = match raw {
        1 => "OBD II (California)",
        2 => "OBD (US federal)",
        3 => "OBD and OBD II",
        4 => "OBD I",
        5 => "none",
        6 => "EOBD",
        7 => "EOBD and OBD II",
        8 => "EOBD and OBD",
        9 => "EOBD, OBD and OBD II",
        10 => "JOBD",
        11 => "JOBD and OBD II",
        12 => "JOBD and EOBD",
        13 => "JOBD, EOBD and OBD II",
        17 => "EMD",
        18 => "EMD+",
        19 => "HD OBD-C",
        20 => "HD OBD",
        21 => "WWH OBD",
        23 => "HD EOBD-I",
        24 => "HD EOBD-I N",
        25 => "HD EOBD-II",
        26 => "HD EOBD-II N",
        28 => "OBDBr-1",
        29 => "OBDBr-2",
        30 => "KOBD",
        31 => "IOBD I",
        32 => "IOBD II",
        33 => "HD EOBD-VI",
        34 => "OBD, OBD II and HD OBD",
        35 => "OBDBr-3",
        _ => return format!("code {raw}"),
    };
    text.to_owned()
}

/// Words for PID 1E: power take-off.
pub fn power_take_off(raw: u32) -> String {
    if raw & 1 == 1 {
        "power take-off active"
    } else {
        "power take-off off"
    }
    .to_owned()
}

/// Words for PID 51 by its number (SAE J1979).
const FUELS: [&str; 24] = [
    "not available",
    "petrol",
    "methanol",
    "ethanol",
    "diesel",
    "LPG",
    "CNG",
    "propane",
    "electric",
    "bifuel, on petrol",
    "bifuel, on methanol",
    "bifuel, on ethanol",
    "bifuel, on LPG",
    "bifuel, on CNG",
    "bifuel, on propane",
    "bifuel, on electricity",
    "bifuel, electric and combustion",
    "hybrid petrol",
    "hybrid ethanol",
    "hybrid diesel",
    "hybrid electric",
    "hybrid, electric and combustion",
    "hybrid regenerative",
    "bifuel, on diesel",
];

/// Words for PID 51: type of fuel.
pub fn fuel_type(raw: u32) -> String {
    let known = FUELS.get(raw as usize);
    known.map_or_else(|| format!("code {raw}"), |name| (*name).to_owned())
}

/// Words for PID 65: what of the auxiliary inputs named in byte A is active by byte B.
pub fn auxiliary(raw: u32) -> String {
    /// Words for each input by its bit, inactive and active (SAE J1979).
    const STATES: [[&str; 2]; 4] = [
        ["power take-off off", "power take-off active"],
        ["automatic in park or neutral", "automatic in gear"],
        ["manual in neutral or clutch down", "manual in gear"],
        ["glow plug lamp off", "glow plug lamp on"],
    ];
    let [.., supported, state] = raw.to_be_bytes();
    let words: Vec<&str> = (0..8)
        .zip(STATES)
        .filter(|(bit, _)| supported >> bit & 1 == 1)
        .map(|(bit, [off, on])| if state >> bit & 1 == 1 { on } else { off })
        .collect();
    or_none(&words)
}

/// Words for PID 5F: which heavy-duty emission requirements the vehicle was built to.
pub fn emission_requirements(raw: u32) -> String {
    let text = match raw {
        14 => "heavy duty Euro IV (B1)",
        15 => "heavy duty Euro V (B2)",
        16 => "heavy duty Euro EEV (C)",
        _ => return format!("code {raw}"),
    };
    text.to_owned()
}

/// Words for PID 7D and 7E: where the engine runs with regard to an emission control area.
pub fn control_area(raw: u32) -> String {
    /// Words for each bit that is set (SAE J1979).
    const AREAS: [&str; 4] = [
        "inside the control area",
        "outside the control area",
        "inside the manufacturer's exception area",
        "deficiency active",
    ];
    let words: Vec<&str> = (0..8)
        .zip(AREAS)
        .filter(|(bit, _)| raw >> bit & 1 == 1)
        .map(|(_, words)| words)
        .collect();
    or_none(&words)
}

/// Words for the two control bits of PID 70 and 71.
pub fn control_loop(raw: u32) -> String {
    let text = match raw {
        1 => "open loop",
        2 => "closed loop",
        3 => "fault",
        _ => "undefined",
    };
    text.to_owned()
}

/// Words for a single bit.
pub fn yes_no(raw: u32) -> String {
    if raw == 0 { "no" } else { "yes" }.to_owned()
}

fn or_none(words: &[&str]) -> String {
    match words {
        [] => "none".to_owned(),
        words => words.join(", "),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Bit layouts of SAE J1979, Appendix B (from memory).
    #[test]
    fn coded_parameters_say_what_their_bits_mean() {
        assert_eq!(fuel_system(2), "closed loop");
        assert_eq!(fuel_system(3), "undefined (03)");
        assert_eq!(fuel_system(0x10), "closed loop, fault");
        assert_eq!(secondary_air(4), "to the outside or off");
        assert_eq!(
            sensors_two_banks(0x13),
            "bank 1 sensor 1, bank 1 sensor 2, bank 2 sensor 1"
        );
        assert_eq!(sensors_four_banks(0x84), "bank 2 sensor 1, bank 4 sensor 2");
        assert_eq!(sensors_two_banks(0), "none");
        assert_eq!(regulation(6), "EOBD");
        assert_eq!(regulation(200), "code 200");
        assert_eq!(fuel_type(1), "petrol");
        assert_eq!(fuel_type(4), "diesel");
        assert_eq!(fuel_type(250), "code 250");
        assert_eq!(emission_requirements(15), "heavy duty Euro V (B2)");
        assert_eq!(
            auxiliary(0x0300),
            "power take-off off, automatic in park or neutral"
        );
        assert_eq!(
            auxiliary(0x0602),
            "automatic in gear, manual in neutral or clutch down"
        );
        assert_eq!(
            control_area(0x05),
            "inside the control area, inside the manufacturer's exception area"
        );
        assert_eq!(control_loop(2), "closed loop");
    }
}
