//! Files far larger than any real one, by recipe: memory and time must not grow beyond what a file of that size needs.

use std::{fs, io::Write, path::Path};

use super::{super::dice::Dice, File, Place, Take, Target};

/// A recipe: the name of the file, how often a piece is repeated, the text before, and the piece, a line each; `{n}` in the
/// piece is the number of its turn, `\n` a line end.
pub const GIANT: Target = Target {
    name: "giant",
    ending: "txt",
    share: 0.5,
    waits: false,
    draw: |_, dice| recipe(dice).into_bytes(),
    take: Take::File(File {
        prepare: make,
        commands: &[
            "inspect {new}/giant.capture.csv",
            "diagnose {new}/giant.capture.csv",
            "export {new}/giant.capture.csv --shape wide --out {new}/wide.csv",
            "import {new}/giant.csv --out {new}/imported.capture.csv",
            "bench {new}/giant.toml",
            "diagnose {material}/after.capture.csv --vehicle {new}/giant.toml",
            "diagnose {material}/after.capture.csv --priors {new}/giant.toml",
        ],
        inside: |_| {},
    }),
};

const CAPTURE: &str = "# capture 1\\n# {}\\nt_us,kind,ecu,request,response\\n";
/// Name, most bytes, the text before, the piece.
const RECIPES: [(&str, usize, &str, &str); 14] = [
    ("giant.csv", 80 << 20, "Time,RPM\\n", "1,2,"),
    ("giant.csv", 80 << 20, "", "Time;"),
    ("giant.csv", 20 << 20, "Time,RPM\\n1,", "\\\""),
    ("giant.csv", 20 << 20, "Time,Engine RPM\\n", "{n},800\\n"),
    ("giant.csv", 20 << 20, "name,value\\n", "quantity {n},1\\n"),
    ("giant.capture.csv", 80 << 20, CAPTURE, "1,mark,,,"),
    (
        "giant.capture.csv",
        20 << 20,
        CAPTURE,
        "{n},data,{n},010C,410C0BB8\\n",
    ),
    (
        "giant.capture.csv",
        20 << 20,
        CAPTURE,
        "{n},none,7E8,{n},NO DATA {n}\\n",
    ),
    (
        "giant.capture.csv",
        20 << 20,
        CAPTURE,
        "{n},link,,,state {n}\\n",
    ),
    (
        "giant.capture.csv",
        20 << 20,
        CAPTURE,
        "{n}000000,value,,010C,800\\n",
    ),
    ("giant.capture.csv", 20 << 20, "# capture 1\\n# ", "{\"a\":"),
    ("giant.toml", 4 << 20, "a = ", "["),
    ("giant.toml", 4 << 20, "", "[a{n}]\\n"),
    ("giant.toml", 4 << 20, "banks = [", "[1],"),
];

fn recipe(dice: &mut Dice) -> String {
    let (name, bytes, before, piece) = *dice.one_of(&RECIPES);
    let times = dice.log_between(1.0, (bytes / piece.len()) as f64) as usize;
    format!("{name}\n{times}\n{before}\n{piece}\n")
}

fn make(place: &Place) {
    let recipe = fs::read_to_string(&place.file).unwrap();
    let mut lines = recipe.lines();
    let mut next = || lines.next().unwrap_or_default();
    let (name, times, before, piece) = (next(), next(), next(), next());
    let name = Path::new(name).file_name().unwrap_or_default();
    let times: u64 = times.parse().unwrap_or(0);
    let mut file = std::io::BufWriter::new(fs::File::create(place.new.join(name)).unwrap());
    let plain = |text: &str| text.replace("\\n", "\n").replace("\\\"", "\"");
    file.write_all(plain(before).as_bytes()).unwrap();
    let piece = plain(piece);
    for n in 0..times {
        let piece = if piece.contains("{n}") {
            piece.replace("{n}", &n.to_string())
        } else {
            piece.clone()
        };
        file.write_all(piece.as_bytes()).unwrap();
    }
    file.flush().unwrap();
}
