//! What people write in TOML: vehicle files, bench readings, priors, visits.

use super::{super::mutate::spoil_lines, File, Take, Target};

/// What parts the pieces of a line.
const SEPARATORS: &[u8] = b"=,[]";

const fn taken_by(commands: &'static [&'static str]) -> Take {
    Take::File(File {
        prepare: |_| {},
        commands,
        inside: |_| {},
    })
}

/// A vehicle file.
pub const VEHICLE: Target = Target {
    name: "vehicle",
    ending: "toml",
    share: 0.7,
    waits: false,
    draw: |material, dice| spoil_lines(material.any("vehicle.toml", dice), SEPARATORS, dice),
    take: taken_by(&[
        "diagnose {material}/before.capture.csv --vehicle {file}",
        "diagnose {material}/v6.capture.csv --vehicle {file} --bench {material}/readings.toml --json",
        "bench {material}/readings.toml --vehicle {file}",
        "bench --new {new}/form.toml --vehicle {file}",
        "job new {new}/visit --vehicle {file} --no-questions",
        "import {material}/foreign.table.csv --vehicle {file} --out {new}/a.capture.csv",
        "inspect {new}/a.capture.csv",
    ]),
};

/// A form of bench readings.
pub const READINGS: Target = Target {
    name: "readings",
    ending: "toml",
    share: 1.0,
    waits: false,
    draw: |material, dice| spoil_lines(material.any("readings.toml", dice), SEPARATORS, dice),
    take: taken_by(&[
        "bench {file} --vehicle {material}/vehicle.toml",
        "bench {file} --units us --json",
        "bench {file} --against {material}/before.capture.csv",
        "diagnose {material}/before.capture.csv --bench {file}",
        "diagnose {material}/v6.capture.csv --bench {file} --json",
    ]),
};

/// How common causes are.
pub const PRIORS: Target = Target {
    name: "priors",
    ending: "toml",
    share: 0.7,
    waits: false,
    draw: |material, dice| spoil_lines(material.any("priors.toml", dice), SEPARATORS, dice),
    take: taken_by(&[
        "diagnose {material}/before.capture.csv --priors {file}",
        "diagnose {material}/v6.capture.csv --priors {file} --bench {material}/readings.toml --json",
    ]),
};

/// What was said when the car came, in a job.
pub const VISIT: Target = Target {
    name: "visit",
    ending: "toml",
    share: 0.5,
    waits: false,
    draw: |material, dice| spoil_lines(material.any("visit.toml", dice), SEPARATORS, dice),
    take: Take::File(File {
        prepare: |place| {
            let before = place.material.folder().join("before.capture.csv");
            place.make_job(&place.file, &before, "before-2026-11-25-101500.capture.csv");
        },
        commands: &[
            "job show {new}/job",
            "job show {new}/job --json",
            "job list {new}",
            "diagnose --job {new}/job",
            "compare --job {new}/job",
            "report {new}/job --out {new}/page.html",
        ],
        inside: |_| {},
    }),
};
