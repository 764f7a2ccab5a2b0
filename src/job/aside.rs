//! A capture that turned out to be of another car: kept, on neither side of the job.

use std::{
    fs::{self, File},
    io,
    path::{Path, PathBuf},
};

use super::{
    error::JobError,
    folder::{Folder, Kind, refused},
};
use crate::durable::sync_folder_of;

/// How the names of such captures begin.
const OTHER_CAR: &str = "other-car";

impl Folder {
    /// Takes a capture of another car off its side: it stays in the folder under a name that puts it on neither, which is
    /// given.
    ///
    /// # Errors
    /// Whatever the operating system refuses; the capture stays where it is then.
    pub fn set_aside(&self, capture: &Path) -> Result<PathBuf, JobError> {
        for name in self.new_names(Kind::Capture, OTHER_CAR)? {
            match File::create_new(&name) {
                // the name is ours now
                Ok(_) => {
                    if let Err(error) = fs::rename(capture, &name) {
                        let _ = fs::remove_file(&name);
                        return Err(refused(capture, error));
                    }
                    sync_folder_of(&name);
                    return Ok(name);
                }
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
                Err(error) => return Err(refused(&name, error)),
            }
        }
        Err(JobError::Exists(self.path().to_owned()))
    }
}
