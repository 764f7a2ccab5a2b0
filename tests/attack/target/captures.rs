//! Captures, plain and compressed, and traces: through every command, onto the screen, and as a car to plug into.

use std::{fs, path::Path};

use pintle::{
    capture::Reader,
    live::Model,
    simulator::{
        adapter::{TracePlayer, VirtualAdapter},
        recorded,
    },
    trace,
};

use super::{
    super::{
        dice::Dice,
        material::Material,
        mutate::{self, spoil_lines},
    },
    File, Place, Take, Target, drawn,
};

/// A capture, plain.
pub const CAPTURE: Target = Target {
    name: "capture",
    ending: "capture.csv",
    share: 5.0,
    waits: false,
    draw: capture,
    take: ON_CAPTURES,
};

/// A capture in gzip members.
pub const COMPRESSED: Target = Target {
    name: "compressed",
    ending: "capture.csv.gz",
    share: 1.5,
    waits: false,
    draw: compressed,
    take: ON_CAPTURES,
};

const ON_CAPTURES: Take = Take::File(File {
    prepare: into_a_job,
    commands: &[
        "inspect {file}",
        "inspect {file} --json",
        "diagnose {file}",
        "diagnose {file} --json --vehicle {material}/vehicle.toml",
        "compare --before {file} --after {material}/after.capture.csv",
        "compare --before {material}/before.capture.csv --after {file} --json",
        "export {file} --out {new}/long.csv",
        "export {file} --shape wide --out {new}/wide.csv",
        "export {file} --shape wide --every 50ms --out {new}/fine.csv",
        "bench {material}/readings.toml --against {file}",
        "job show {new}/job",
        "report {new}/job --out {new}/page.html",
    ],
    inside: |file| {
        onto_the_screen(file);
        plug_into(file);
    },
});

/// A trace of the bytes on the line.
pub const TRACE: Target = Target {
    name: "trace",
    ending: "trace",
    share: 0.5,
    waits: false,
    draw: |material, dice| spoil_lines(material.any(".trace", dice), b" ", dice),
    take: Take::File(File {
        prepare: |_| {},
        commands: &["inspect {file}"],
        inside: play,
    }),
};

fn capture(material: &Material, dice: &mut Dice) -> Vec<u8> {
    match dice.index(10) {
        0 => drawn::many_controllers(dice),
        1..4 => drawn::values(dice),
        _ => {
            let capture = material.any(".capture.csv", dice);
            spoil_lines(capture, b",", dice)
        }
    }
}

fn compressed(material: &Material, dice: &mut Dice) -> Vec<u8> {
    let text = if dice.chance(0.5) {
        material.any(".capture.csv", dice).to_vec()
    } else {
        capture(material, dice)
    };
    let mut members = mutate::compress(&text, dice);
    for _ in 0..dice.index(4) {
        mutate::spoil_compressed(&mut members, dice);
    }
    members.concat()
}

/// A job with this capture before the work and a sound one after it.
fn into_a_job(place: &Place) {
    let ending = if place.file.extension().is_some_and(|ending| ending == "gz") {
        ".gz"
    } else {
        ""
    };
    let name = format!("before-2026-11-25-101500.capture.csv{ending}");
    place.make_job(
        &place.material.folder().join("visit.toml"),
        &place.file,
        &name,
    );
}

fn onto_the_screen(file: &Path) {
    let Ok(mut reader) = Reader::open(file) else {
        return;
    };
    let mut model = Model::new(reader.header(), &[]);
    while let Ok(Some(row)) = reader.next_row() {
        model.take(&row);
    }
    drop((model.summary(), model.whole(), model.running()));
}

/// Asks a recorded car, for a while of its time.
fn plug_into(file: &Path) {
    let Ok(opened) = Reader::open(file)
        .map_err(Into::into)
        .and_then(recorded::open)
    else {
        return;
    };
    let _ = (
        opened.car.length_us(),
        opened.car.items(),
        opened.car.volts(),
    );
    let car = match opened.car.length_us() / 2 {
        0 => opened.car,
        later_us => opened.car.from(later_us).unwrap(),
    };
    let mut adapter = VirtualAdapter::new(car, 38_400);
    let lines = [
        "ATZ\r",
        "ATE0\r",
        "ATRV\r",
        "0100\r",
        "010C\r",
        "01060C04100D07\r",
        "03\r",
        "06A2\r",
        "0902\r",
        "22F40C\r",
    ];
    let mut now_us = 0;
    for line in lines.into_iter().cycle().take(60) {
        for byte in line.bytes() {
            adapter.receive(byte, now_us);
        }
        now_us = adapter.settled_us().unwrap_or(now_us) + 100_000;
        adapter.take_due(now_us);
    }
}

fn play(file: &Path) {
    let content = fs::read(file).unwrap();
    let Ok(entries) = trace::parse(&content) else {
        return;
    };
    for entry in &entries {
        drop(entry.to_string());
    }
    let Ok(mut player) = TracePlayer::new(&entries) else {
        return;
    };
    let mut now_us = 0;
    for line in [
        "ATZ\r", "0100\r", "010C\r", "010C1\r", "", "03\r", "\r", "22F40C\r",
    ]
    .into_iter()
    .cycle()
    .take(60)
    {
        for byte in line.bytes() {
            player.receive(byte, now_us);
        }
        now_us = player.due_us().unwrap_or(now_us);
        player.take_due(now_us);
        now_us = now_us.saturating_add(1_000);
    }
}
