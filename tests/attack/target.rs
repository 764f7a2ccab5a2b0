//! What is attacked. A target draws inputs from a seed and takes each in, in all the ways in which the program would.

mod bytes;
mod captures;
mod conversation;
mod drawn;
mod forms;
mod giants;
mod recording;
mod tables;

use std::{
    fs,
    path::{Path, PathBuf},
};

use super::{dice::Dice, material::Material};

/// Something that inputs are thrown at.
pub struct Target {
    /// Its name, and that of the folder with the inputs that once broke it.
    pub name: &'static str,
    /// How the names of its inputs end.
    pub ending: &'static str,
    /// Its share of the time, against the others.
    pub share: f64,
    /// Whether it mostly waits, for adapters that say nothing: then it takes no processor from the others.
    pub waits: bool,
    /// Draws an input.
    pub draw: fn(&Material, &mut Dice) -> Vec<u8>,
    /// What is done with an input.
    pub take: Take,
}

/// How an input is taken in.
pub enum Take {
    /// As bytes, by code of the program.
    Bytes(fn(&[u8])),
    /// As a file, by commands and by what no command reaches without a terminal or a port.
    File(File),
}

/// What is done with a file.
pub struct File {
    /// Puts in place what the commands need beside it.
    pub prepare: fn(&Place),
    /// The commands, where `{file}` is the input, `{new}` an empty folder, `{material}` the folder of sound files.
    pub commands: &'static [&'static str],
    /// Code of the program that takes it in too.
    pub inside: fn(&Path),
}

/// Where an input lies as a file.
pub struct Place<'a> {
    /// The input.
    pub file: PathBuf,
    /// A folder for whatever is written, gone afterwards.
    pub new: PathBuf,
    /// The sound files that the input is combined with.
    pub material: &'a Material,
}

impl Place<'_> {
    /// The words of a command.
    pub fn words(&self, command: &str) -> Vec<String> {
        let paths = [
            ("{file}", self.file.as_path()),
            ("{new}", self.new.as_path()),
            ("{material}", self.material.folder()),
        ];
        let fill = |word: &str| {
            let mut word = word.to_owned();
            for (name, path) in paths {
                word = word.replace(name, path.to_str().unwrap());
            }
            word
        };
        command.split_whitespace().map(fill).collect()
    }

    /// Makes the job `{new}/job` of this visit, with this capture before the work and a sound one after it.
    fn make_job(&self, visit: &Path, before: &Path, name: &str) {
        let captures = self.new.join("job/captures");
        fs::create_dir_all(&captures).unwrap();
        fs::copy(visit, self.new.join("job/job.toml")).unwrap();
        fs::copy(before, captures.join(name)).unwrap();
        let after = self.material.folder().join("after.capture.csv");
        fs::copy(after, captures.join("after-2026-11-26-101500.capture.csv")).unwrap();
    }
}

/// The name, in the folder for new files, of a page for the customer.
pub const PAGE: &str = "page.html";

/// Every target.
pub const TARGETS: &[Target] = &[
    bytes::EXCHANGE,
    bytes::REPLY,
    conversation::REPLIES,
    conversation::ADAPTER,
    captures::CAPTURE,
    captures::COMPRESSED,
    captures::TRACE,
    tables::TABLE,
    tables::COLUMN_MAP,
    forms::VEHICLE,
    forms::READINGS,
    forms::PRIORS,
    forms::VISIT,
    recording::RECORDING,
    giants::GIANT,
];
