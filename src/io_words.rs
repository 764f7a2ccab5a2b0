//! What the operating system refuses, in plain words and with the next step; its numbers ("os error 17") help nobody.

use std::io::{self, ErrorKind};

/// What stands before the system's number in an error's text.
const NUMBER: &str = " (os error ";

/// What went wrong.
pub fn problem(error: &io::Error) -> String {
    let words = match error.kind() {
        ErrorKind::NotFound => "there is no such file or folder",
        ErrorKind::PermissionDenied => "you have no permission to use it",
        ErrorKind::AlreadyExists => "it already exists and is never overwritten",
        ErrorKind::StorageFull => "the disk is full",
        ErrorKind::QuotaExceeded => "your disk quota is used up",
        ErrorKind::FileTooLarge => "the file is too large for this disk",
        ErrorKind::ReadOnlyFilesystem => "the disk is read-only",
        ErrorKind::IsADirectory => "this is a folder, not a file",
        ErrorKind::NotADirectory => "there is a file where a folder is needed",
        ErrorKind::InvalidFilename => {
            "the name is too long or has letters that the disk does not allow"
        }
        ErrorKind::AddrInUse => "another program is using this address",
        ErrorKind::AddrNotAvailable => "this computer does not have this address",
        _ => return without_number(&error.to_string()),
    };
    words.to_owned()
}

/// What the person can do now.
pub fn next_step(error: &io::Error) -> &'static str {
    match error.kind() {
        ErrorKind::NotFound | ErrorKind::NotADirectory => "check the name and the folder",
        ErrorKind::PermissionDenied => "change its permissions, or use a folder of your own",
        ErrorKind::AlreadyExists => "choose another name or move the old file away",
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => "make room, or use another disk",
        ErrorKind::FileTooLarge => "use another disk",
        ErrorKind::ReadOnlyFilesystem => "use a folder on another disk",
        ErrorKind::IsADirectory => "choose a file in it",
        ErrorKind::InvalidData => "check that this is the right file",
        ErrorKind::InvalidFilename => "choose a shorter, plain name",
        _ => "check the disk, its free space and your permission",
    }
}

/// Why a new file cannot be made: what is missing then is never the file.
pub fn problem_of_new_file(error: &io::Error) -> String {
    match error.kind() {
        ErrorKind::NotFound => "there is no such folder".to_owned(),
        _ => problem(error),
    }
}

/// What the person can do when a new file cannot be made.
pub fn next_step_for_new_file(error: &io::Error) -> &'static str {
    match error.kind() {
        ErrorKind::NotFound => "make the folder first, or choose another",
        ErrorKind::IsADirectory => "choose another name",
        _ => next_step(error),
    }
}

/// A text of the system's, or of a library that quotes the system, without the system's numbers.
pub fn without_number(text: &str) -> String {
    let mut parts = text.split(NUMBER);
    let mut plain = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        plain += part.split_once(')').map_or(part, |(_, after)| after);
    }
    plain
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_number_of_the_system_reaches_a_person() {
        // 1 to 40 are the classic ones of every Unix, from "not permitted" to "too many links"
        for number in 1..=40 {
            let error = io::Error::from_raw_os_error(number);
            for words in [problem(&error), problem_of_new_file(&error)] {
                assert!(!words.contains("os error") && !words.is_empty(), "{words}");
            }
        }
        let quoted = "cannot go on: Input/output error (os error 5), twice (os error 6)";
        assert_eq!(
            without_number(quoted),
            "cannot go on: Input/output error, twice"
        );
    }

    #[test]
    fn an_error_that_a_library_wraps_is_worded_by_its_kind() {
        let wrapped = io::Error::new(ErrorKind::NotFound, "No such file at path \"x\"");
        assert_eq!(problem(&wrapped), "there is no such file or folder");
        assert_eq!(problem_of_new_file(&wrapped), "there is no such folder");
        let own = io::Error::new(ErrorKind::UnexpectedEof, "device disconnected");
        assert_eq!(problem(&own), "device disconnected");
    }
}
