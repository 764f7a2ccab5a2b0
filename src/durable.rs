//! New files that are there whole or not at all, never in place of another, and that outlast a pulled plug.

use std::{
    ffi::OsStr,
    fs::{self, File},
    io::{self, Write},
    path::{Path, PathBuf},
};

use tempfile::{Builder, NamedTempFile};

/// How the name of a file ends that is not whole: `van3.csv.k3Xw9a.unfinished`.
const UNFINISHED: &str = "unfinished";

/// Letters and digits before that ending, which keep two writers of one name apart.
const MARK_LENGTH: usize = 6;

/// A new file that is written aside, in the folder where it belongs, and gets its name once it is whole.
///
/// Dropped unfinished it leaves nothing behind. A program that is killed leaves a file that [`is_unfinished`] knows.
#[derive(Debug)]
pub struct NewFile {
    aside: NamedTempFile,
    path: PathBuf,
}

impl NewFile {
    /// Begins a file of this name.
    ///
    /// # Errors
    /// [`io::ErrorKind::AlreadyExists`] when the name is taken, and whatever the operating system refuses.
    pub fn create(path: &Path) -> io::Result<Self> {
        if path.symlink_metadata().is_ok() {
            return Err(io::ErrorKind::AlreadyExists.into());
        }
        let mut name = path.file_name().unwrap_or_default().to_owned();
        name.push(".");
        let ending = format!(".{UNFINISHED}");
        let mut builder = Builder::new();
        builder
            .prefix(&name)
            .rand_bytes(MARK_LENGTH)
            .suffix(&ending);
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            // as for any new file: the person's own mask decides who may read it
            builder.permissions(fs::Permissions::from_mode(0o666));
        }
        Ok(Self {
            aside: builder.tempfile_in(folder_of(path))?,
            path: path.to_owned(),
        })
    }

    /// What is written goes here.
    pub fn file(&self) -> &File {
        self.aside.as_file()
    }

    /// The name that it will have.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Asks the disk to keep the file, then gives it its name.
    ///
    /// # Errors
    /// [`io::ErrorKind::AlreadyExists`] when somebody else has taken the name meanwhile, and whatever the operating
    /// system refuses; then nothing is left behind.
    pub fn finish(self) -> io::Result<()> {
        self.aside.as_file().sync_all()?;
        match self.aside.persist_noclobber(&self.path) {
            Ok(_) => {}
            Err(refused) if refused.error.kind() == io::ErrorKind::AlreadyExists => {
                return Err(refused.error);
            }
            // some memory sticks and network folders cannot rename without overwriting
            Err(refused) => name_by_claim(refused.file, &self.path)?,
        }
        sync_folder_of(&self.path);
        Ok(())
    }
}

/// Takes the name with an empty file, which only one of several writers can do, and puts the whole one in its place.
fn name_by_claim(aside: NamedTempFile, path: &Path) -> io::Result<()> {
    File::create_new(path)?;
    aside.persist(path).map(drop).map_err(|refused| {
        // our own: whoever could not take the name has not come this far
        let _ = fs::remove_file(path);
        refused.error
    })
}

/// Writes a new small file.
///
/// # Errors
/// [`io::ErrorKind::AlreadyExists`] when the name is taken, and whatever the operating system refuses.
pub fn put_new(path: &Path, content: &[u8]) -> io::Result<()> {
    let new = NewFile::create(path)?;
    new.file().write_all(content)?;
    new.finish()
}

/// Whether this is a file that was never finished, or is still being written.
pub fn is_unfinished(path: &Path) -> bool {
    let mark = |stem: &OsStr| {
        let mark = Path::new(stem).extension()?.to_str()?;
        let plain = mark.chars().all(|c| c.is_ascii_alphanumeric());
        (plain && mark.len() == MARK_LENGTH).then_some(())
    };
    path.extension().is_some_and(|ending| ending == UNFINISHED)
        && path.file_stem().and_then(mark).is_some()
}

/// The unfinished files in a folder, by name; none where it cannot be read.
pub fn unfinished_in(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    let paths = entries.map(|entry| entry.path());
    let mut found: Vec<PathBuf> = paths.filter(|path| is_unfinished(path)).collect();
    found.sort();
    found
}

/// The folder in which a file of this name lies.
pub fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

/// Makes the new name itself durable where the system lets a folder be synced; elsewhere nothing can be done.
pub fn sync_folder_of(path: &Path) {
    if let Ok(folder) = File::open(folder_of(path)) {
        let _ = folder.sync_all();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names_in(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder).unwrap().flatten();
        entries
            .map(|entry| entry.file_name().into_string().unwrap())
            .collect()
    }

    #[test]
    fn a_name_that_is_taken_is_left_as_it_is() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("job.toml");
        let late = NewFile::create(&path).unwrap();
        let later = NewFile::create(&path).unwrap();
        fs::write(&path, "mine").unwrap();
        for refused in [
            put_new(&path, b"other").unwrap_err(),
            late.finish().unwrap_err(),
            name_by_claim(later.aside, &path).unwrap_err(),
        ] {
            assert_eq!(refused.kind(), io::ErrorKind::AlreadyExists);
        }
        assert_eq!(fs::read_to_string(&path).unwrap(), "mine");
        assert_eq!(names_in(folder.path()), ["job.toml"]);
    }

    #[test]
    fn of_many_writers_of_one_name_exactly_one_wins_and_its_content_is_whole() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("findings.json");
        let writers: Vec<_> = (0..8_u8)
            .map(|number| {
                let path = path.clone();
                std::thread::spawn(move || put_new(&path, &[b'0' + number; 100_000]).is_ok())
            })
            .collect();
        let won = writers.into_iter().map(|writer| writer.join().unwrap());
        assert_eq!(won.filter(|won| *won).count(), 1);
        let content = fs::read(&path).unwrap();
        assert_eq!(content.len(), 100_000);
        assert!(content.iter().all(|byte| *byte == content[0]));
        assert_eq!(names_in(folder.path()), ["findings.json"]);
    }

    #[test]
    fn where_renaming_would_overwrite_the_name_is_claimed_first() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("van3.csv");
        let new = NewFile::create(&path).unwrap();
        new.file().write_all(b"whole").unwrap();
        name_by_claim(new.aside, &path).unwrap();
        assert_eq!(fs::read_to_string(&path).unwrap(), "whole");
        assert_eq!(names_in(folder.path()), ["van3.csv"]);
    }

    #[test]
    fn a_file_that_is_not_whole_is_known_by_its_name_and_no_other_is() {
        let folder = tempfile::tempdir().unwrap();
        let new = NewFile::create(&folder.path().join("van3.capture.csv")).unwrap();
        let [name] = names_in(folder.path()).try_into().unwrap();
        assert!(name.starts_with("van3.capture.csv."), "{name}");
        assert_eq!(unfinished_in(folder.path()), [folder.path().join(&name)]);
        drop(new);
        assert_eq!(names_in(folder.path()).len(), 0);
        for other in ["van3.csv", "notes.unfinished", "my.long-one.unfinished"] {
            assert!(!is_unfinished(Path::new(other)), "{other}");
        }
    }

    #[cfg(unix)]
    #[test]
    fn a_new_file_can_be_read_by_whoever_may_read_any_new_file() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let [usual, new] = ["usual", "new"].map(|name| folder.path().join(name));
        fs::write(&usual, "").unwrap();
        put_new(&new, b"").unwrap();
        let [usual, new] = [usual, new].map(|path| fs::metadata(path).unwrap().permissions());
        assert_eq!(usual.mode(), new.mode());
    }
}
