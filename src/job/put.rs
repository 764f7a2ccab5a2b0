//! Writing a small file so that it is there whole or not at all, and never in place of another.

use std::{
    fs::{self, File},
    io::{self, Write},
    path::Path,
};

use crate::durable::sync_folder_of;

/// Writes a new file.
///
/// The name is taken first with an empty file, which only one of several writers can do; the content is written aside and
/// synced, and then put in its place. An empty file is all that a pulled plug can leave behind: readers pass over it.
///
/// # Errors
/// [`io::ErrorKind::AlreadyExists`] when the name is taken, and whatever the operating system refuses.
pub fn put_new(path: &Path, content: &[u8]) -> io::Result<()> {
    File::create_new(path)?;
    let mut name = path.file_name().unwrap_or_default().to_owned();
    name.push(".part");
    let aside = path.with_file_name(name);
    let written = fill(&aside, content).and_then(|()| fs::rename(&aside, path));
    match written {
        Ok(()) => sync_folder_of(path),
        // our own: whoever could not take the name has not written here
        Err(_) => drop((fs::remove_file(path), fs::remove_file(&aside))),
    }
    written
}

fn fill(path: &Path, content: &[u8]) -> io::Result<()> {
    let mut file = File::create(path)?;
    file.write_all(content)?;
    file.sync_all()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_that_is_taken_is_left_as_it_is() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("job.toml");
        fs::write(&path, "mine").unwrap();
        let refused = put_new(&path, b"other").unwrap_err();
        assert_eq!(refused.kind(), io::ErrorKind::AlreadyExists);
        assert_eq!(fs::read_to_string(&path).unwrap(), "mine");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
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
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}
