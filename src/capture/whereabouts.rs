//! Where a capture is while it is written, and a new place for one that somebody deletes meanwhile.

use std::{
    ffi::OsStr,
    fs::{self, File, OpenOptions},
    io::{self, Seek, Write},
    path::{Path, PathBuf},
};

use crate::durable::{folder_of, sync_folder_of};

/// Numbers tried for the new name.
const LAST_NUMBER: u32 = 999;

/// The file of a capture being written, held open, so that its content can be read even when its name is gone.
#[derive(Debug)]
pub(super) struct Whereabouts {
    path: PathBuf,
    held: File,
    is_moved: bool,
}

/// What somebody else did with the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Fate {
    /// Nothing: it is where it was created.
    InPlace,
    /// It was given another name or folder. All that is written still goes into it.
    Moved,
    /// It was deleted: all of it is lost when the program ends.
    Deleted,
}

impl Whereabouts {
    /// The whereabouts of a file that was just created under this name.
    pub fn of(path: &Path) -> io::Result<Self> {
        Ok(Self {
            path: path.to_owned(),
            held: File::open(path)?,
            is_moved: false,
        })
    }

    /// The name that it was given last.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Looks after the file. What cannot be found out counts as in place.
    pub fn fate(&self) -> Fate {
        #[cfg(unix)]
        {
            use std::os::unix::fs::MetadataExt;
            let Ok(held) = self.held.metadata() else {
                return Fate::InPlace;
            };
            match fs::metadata(&self.path) {
                Ok(there) if (there.dev(), there.ino()) == (held.dev(), held.ino()) => {
                    Fate::InPlace
                }
                Err(error) if error.kind() != io::ErrorKind::NotFound => Fate::InPlace,
                _ if held.nlink() == 0 => Fate::Deleted,
                _ => Fate::Moved,
            }
        }
        #[cfg(not(unix))]
        {
            match fs::metadata(&self.path) {
                Err(error) if error.kind() == io::ErrorKind::NotFound => Fate::Deleted,
                _ => Fate::InPlace,
            }
        }
    }

    /// Whether it is news that the file was moved.
    pub fn note_moved(&mut self) -> bool {
        !std::mem::replace(&mut self.is_moved, true)
    }

    /// Writes all that was in the deleted file into a new one and gives that: beside the old name, or in the current folder
    /// where the old one is gone.
    pub fn write_anew(&mut self) -> io::Result<File> {
        let (path, mut file) = self.create_anew()?;
        let copied = self
            .held
            .rewind()
            .and_then(|()| io::copy(&mut self.held, &mut file))
            .and_then(|_| file.flush())
            .and_then(|()| File::open(&path));
        match copied {
            Ok(held) => {
                sync_folder_of(&path);
                (self.path, self.held, self.is_moved) = (path, held, false);
                Ok(file)
            }
            Err(error) => {
                // a part of a capture would be taken for all of it
                let _ = fs::remove_file(&path);
                Err(error)
            }
        }
    }

    fn create_anew(&self) -> io::Result<(PathBuf, File)> {
        let name = self.path.file_name().unwrap_or_default();
        for folder in [folder_of(&self.path), Path::new(".")] {
            for number in 2..=LAST_NUMBER {
                let path = folder.join(numbered(name, number));
                match OpenOptions::new().write(true).create_new(true).open(&path) {
                    Ok(file) => return Ok((path, file)),
                    Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
                    Err(error) if error.kind() == io::ErrorKind::NotFound => break,
                    Err(error) => return Err(error),
                }
            }
        }
        Err(io::ErrorKind::NotFound.into())
    }
}

/// `van3.capture.csv` with the number 2 is `van3-002.capture.csv`.
fn numbered(name: &OsStr, number: u32) -> String {
    let name = name.to_string_lossy();
    match name.split_once('.') {
        Some((stem, ending)) if !stem.is_empty() => format!("{stem}-{number:03}.{ending}"),
        _ => format!("{name}-{number:03}"),
    }
}
