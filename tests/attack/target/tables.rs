//! Tables of other loggers, and the maps of their columns.

use super::{
    super::{
        dice::Dice,
        material::Material,
        mutate::{self, spoil_lines},
    },
    File, Take, Target,
};

/// Another logger's table.
pub const TABLE: Target = Target {
    name: "table",
    ending: "csv",
    share: 1.5,
    waits: false,
    draw: table,
    take: Take::File(File {
        prepare: |_| {},
        commands: &[
            "import {file} --out {new}/a.capture.csv",
            "import {file} --columns {material}/map.toml --out {new}/b.capture.csv --json",
            "import {file} --out {new}/c.capture.csv.gz --vehicle {material}/vehicle.toml",
            "inspect {new}/a.capture.csv",
            "diagnose {new}/a.capture.csv",
            "diagnose {new}/b.capture.csv --json",
            "export {new}/c.capture.csv.gz --shape wide --out {new}/wide.csv",
        ],
        inside: |_| {},
    }),
};

/// What the columns of a table hold.
pub const COLUMN_MAP: Target = Target {
    name: "column-map",
    ending: "toml",
    share: 0.5,
    waits: false,
    draw: |material, dice| spoil_lines(material.any("map.toml", dice), b"=,{", dice),
    take: Take::File(File {
        prepare: |_| {},
        commands: &[
            "import {material}/wide.table.csv --columns {file} --out {new}/a.capture.csv",
            "import {material}/long.table.csv --columns {file} --out {new}/b.capture.csv",
            "import {material}/foreign.table.csv --columns {file} --out {new}/c.capture.csv",
            "diagnose {new}/a.capture.csv",
        ],
        inside: |_| {},
    }),
};

/// Headers that plainly say a quantity, and some that do not.
const HEADERS: [&str; 16] = [
    "Time",
    "time (ms)",
    "Timestamp",
    "Engine RPM",
    "STFT B1 (%)",
    "LTFT B1",
    "Short term fuel trim bank 2",
    "Load",
    "Coolant (°F)",
    "MAF (lb/min)",
    "MAP kPa",
    "Speed (mph)",
    "cyl 3 misfires",
    "STFT B1 (%)",
    "",
    "\"a, \"\"b\"\"\"",
];

fn table(material: &Material, dice: &mut Dice) -> Vec<u8> {
    if dice.chance(0.4) {
        return drawn(dice);
    }
    spoil_lines(material.any(".table.csv", dice), b",;", dice)
}

/// A table made up column by column.
fn drawn(dice: &mut Dice) -> Vec<u8> {
    let separator = *dice.one_of(&[",", ";", "\t"]);
    let headers: Vec<&str> = (0..1 + dice.index(8))
        .map(|_| *dice.one_of(&HEADERS))
        .collect();
    let mut text = headers.join(separator).into_bytes();
    text.push(b'\n');
    let step = dice.log_between(1e-3, 1e3);
    let oddity = *dice.one_of(&[0.0, 0.01, 0.2]);
    for row in 0..dice.index(120) {
        for column in 0..headers.len() {
            if column > 0 {
                text.extend(separator.as_bytes());
            }
            match dice.chance(oddity) {
                true => text.extend(mutate::word(dice)),
                false if column == 0 => text.extend(format!("{:.3}", row as f64 * step).bytes()),
                false => text.extend(format!("{:.1}", dice.between(-20.0, 3000.0)).bytes()),
            }
        }
        text.push(b'\n');
    }
    text
}
