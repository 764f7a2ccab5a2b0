//! One input taken in, and whether the program survived it.

use std::{
    fs,
    panic::{AssertUnwindSafe, catch_unwind},
    path::PathBuf,
    sync::{Mutex, MutexGuard, PoisonError},
};

use super::{
    super::{
        command,
        material::Material,
        said,
        slice::Slice,
        target::{File, PAGE, Place, Take, Target},
    },
    spoken::Spoken,
    watch,
};

/// Where and why something panicked first since the last attempt, on any thread.
static PANIC: Mutex<Option<String>> = Mutex::new(None);

/// Takes in the inputs of one target.
pub struct Attempts {
    target: &'static Target,
    material: Material,
    spoken: Spoken,
    file: PathBuf,
    new: PathBuf,
}

impl Attempts {
    /// Attempts in a folder of their own. Panics are silent from now on.
    pub fn new(slice: &Slice) -> Self {
        std::panic::set_hook(Box::new(|panic| {
            let place = panic
                .location()
                .map(ToString::to_string)
                .unwrap_or_default();
            let words = panic.payload();
            let text = words.downcast_ref::<&str>().copied();
            let words = text.or(words.downcast_ref::<String>().map(String::as_str));
            lock().get_or_insert_with(|| format!("{place}: {}", words.unwrap_or("no words")));
        }));
        let target = slice.target();
        Self {
            target,
            material: Material::read(&slice.material),
            spoken: Spoken::of(slice),
            file: slice.folder.join(format!("input.{}", target.ending)),
            new: slice.folder.join("new"),
        }
    }

    /// The sound files.
    pub const fn material(&self) -> &Material {
        &self.material
    }

    /// Takes in an input; the error is what broke.
    pub fn take(&self, input: &[u8]) -> Result<(), String> {
        lock().take();
        let taken = catch_unwind(AssertUnwindSafe(|| match &self.target.take {
            Take::Bytes(take) => {
                watch::execute(self.target.name);
                take(input);
            }
            Take::File(file) => self.take_file(file, input),
        }));
        // a thread that nobody waited for may have panicked too
        match (lock().take(), taken) {
            (Some(words), _) => Err(format!("{words}, in `{}`", watch::now())),
            (None, Err(_)) => Err("a panic without words".to_owned()),
            (None, Ok(())) => Ok(()),
        }
    }

    fn take_file(&self, file: &File, input: &[u8]) {
        let place = Place {
            file: self.file.clone(),
            new: self.new.clone(),
            material: &self.material,
        };
        // may be left by an attempt that panicked
        let _ = fs::remove_dir_all(&self.new);
        fs::create_dir(&self.new).unwrap();
        fs::write(&self.file, input).unwrap();
        (file.prepare)(&place);
        for command in file.commands {
            watch::execute(command);
            if let Err(refusal) = command::run(&place.words(command)) {
                refusal.report();
            }
            self.spoken.check();
        }
        said::check_page(&self.new.join(PAGE));
        watch::execute(self.target.name);
        (file.inside)(&self.file);
    }
}

fn lock() -> MutexGuard<'static, Option<String>> {
    PANIC.lock().unwrap_or_else(PoisonError::into_inner)
}
