//! Recordings by chance, for tests.

use std::fmt::Write;

use proptest::prelude::*;

/// One row of a recording by chance: seldom damaged, sometimes after a long silence.
pub fn row() -> impl Strategy<Value = (u64, String)> {
    let byte = any::<u8>();
    let reading = prop_oneof![
        (60_u8..70).prop_map(|b| format!("data,7E8,0105,4105{b:02X}")),
        (0x02_u8..0x30, byte).prop_map(|(a, b)| format!("data,7E8,010C,410C{a:02X}{b:02X}")),
        (0x20_u8..0xC0).prop_map(|b| format!("data,7E8,0104,4104{b:02X}")),
        (0_u8..120).prop_map(|b| format!("data,7E8,010D,410D{b:02X}")),
        (0x60_u8..0xA0).prop_map(|b| format!("data,7E8,0106,4106{b:02X}")),
        (0x60_u8..0xA0).prop_map(|b| format!("data,7E8,0107,4107{b:02X}")),
        (0x60_u8..0xA0).prop_map(|b| format!("data,7E8,0108,4108{b:02X}")),
        (0_u8..3).prop_map(|b| format!("data,7E8,0103,4103{b:02X}00")),
        (0xA2_u8..0xA6, byte).prop_map(|(mid, count)| format!(
            "data,7E8,06{mid:02X},46{mid:02X}0C2400{count:02X}0000FFFF"
        )),
        Just("data,7E8,03,43010301".to_owned()),
        Just("data,7E9,0106,410690".to_owned()),
        Just("value,,010F,21.5".to_owned()),
        Just("mark,,,here".to_owned()),
        Just("link,,,lost".to_owned()),
        Just("garbage".to_owned()),
    ];
    let pause_us = prop_oneof![30 => 0_u64..400_000, 1 => 0_u64..60_000_000];
    (pause_us, reading)
}

/// The rows as a capture; each comes so many µs after the one before.
pub fn capture(rows: &[(u64, String)]) -> tempfile::NamedTempFile {
    let mut text = "# capture 1\n# {}\nt_us,kind,ecu,request,response\n".to_owned();
    let mut t_us = 0;
    for (pause_us, row) in rows {
        t_us += pause_us;
        writeln!(text, "{t_us},{row}").unwrap();
    }
    let file = tempfile::NamedTempFile::new().unwrap();
    std::fs::write(file.path(), text).unwrap();
    file
}
