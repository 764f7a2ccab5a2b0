//! What the attack has found, each kind once.

use std::{collections::BTreeMap, fs, path::Path, process::ExitStatus};

use super::{
    dice,
    material::Material,
    slice::{Progress, Slice},
    worker::watch::HUNG,
};

/// The folder of inputs that once broke something.
const INPUTS: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/attack/inputs");

/// Something that broke.
#[derive(Debug)]
struct Broken {
    /// The slice of the one input that broke it first.
    slice: Slice,
    input: Vec<u8>,
    words: String,
    hung: bool,
    times: u64,
}

/// Everything that broke, by target and place.
#[derive(Debug, Default)]
pub struct Found(BTreeMap<(&'static str, String), Broken>);

/// The place of a panic, of the words that were kept of it.
pub fn place_of(words: &str) -> &str {
    words.split(": ").next().unwrap_or(words)
}

impl Found {
    /// Takes what a worker left behind; the rest of its slice, if it did not come to its end.
    pub fn take(
        &mut self,
        slice: &Slice,
        status: ExitStatus,
        material: &Material,
    ) -> Option<Slice> {
        for entry in fs::read_dir(slice.broken()).unwrap() {
            let path = entry.unwrap().path();
            if path.extension().is_some_and(|ending| ending == "input") {
                let number = path
                    .file_stem()
                    .and_then(|name| name.to_str())
                    .unwrap()
                    .parse()
                    .unwrap();
                let words = fs::read_to_string(path.with_extension("words")).unwrap();
                self.add(slice, number, fs::read(&path).unwrap(), words, false);
            }
        }
        fs::remove_dir_all(slice.broken()).unwrap();
        if status.success() {
            return None;
        }
        let number = Progress::read(&slice.progress()).number;
        let target = slice.target();
        let input = (target.draw)(
            material,
            &mut dice::of_input(slice.seed, target.name, number),
        );
        let hung = status.code() == Some(HUNG);
        let words = if hung {
            format!(
                "no end of `{}`",
                fs::read_to_string(slice.hung()).unwrap_or_default()
            )
        } else {
            format!("the process ended: {status}")
        };
        self.add(slice, number, input, words, hung);
        let rest = Slice {
            from: number + 1,
            ..slice.clone()
        };
        (rest.from < rest.until).then_some(rest)
    }

    fn add(&mut self, slice: &Slice, number: u64, input: Vec<u8>, words: String, hung: bool) {
        let key = (slice.target().name, place_of(&words).to_owned());
        let broken = self.0.entry(key).or_insert_with(|| Broken {
            slice: Slice {
                from: number,
                until: number + 1,
                ..slice.clone()
            },
            input,
            words,
            hung,
            times: 0,
        });
        broken.times += 1;
    }

    /// Makes what can be made smaller.
    pub fn make_smaller(&mut self) {
        let crashes = self.0.values_mut().filter(|broken| !broken.hung);
        for broken in crashes {
            let slice = Slice {
                smaller: true,
                ..broken.slice.clone()
            };
            let ended = slice.start().wait().unwrap();
            let small = slice.broken().join(format!("{}.input", slice.from));
            // one that takes the process with it stays as it is
            if ended.success() && small.exists() {
                broken.input = fs::read(small).unwrap();
            }
            fs::remove_dir_all(slice.broken()).unwrap();
        }
    }

    /// Writes every input to where the tests find it, and says what it breaks.
    pub fn save(&self) {
        for ((target, _), broken) in &self.0 {
            let folder = Path::new(INPUTS).join(target);
            fs::create_dir_all(&folder).unwrap();
            let (seed, number, ending) = (
                broken.slice.seed,
                broken.slice.from,
                broken.slice.target().ending,
            );
            let path = folder.join(format!("seed-{seed}-number-{number}.{ending}"));
            fs::write(&path, &broken.input).unwrap();
            println!(
                "{} times: {}\n    {}",
                broken.times,
                broken.words,
                path.display()
            );
        }
    }

    /// Crashes and hangs of a target.
    pub fn counts(&self, target: &str) -> (u64, u64) {
        let of_target = self.0.iter().filter(|((name, _), _)| *name == target);
        of_target.fold((0, 0), |(crashes, hangs), (_, broken)| {
            if broken.hung {
                (crashes, hangs + broken.times)
            } else {
                (crashes + broken.times, hangs)
            }
        })
    }

    /// Whether nothing broke.
    pub fn is_nothing(&self) -> bool {
        self.0.is_empty()
    }
}
