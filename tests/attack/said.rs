//! What the program says must be text that a terminal shows and never obeys, whatever stood in the files.

use std::{fs, path::Path};

/// Longest line on standard error, bytes: long names of files stand in it, the content of files only in part.
const LONGEST_LINE: usize = 2_000;

/// Looks at what a command has printed, results and remarks.
///
/// # Panics
/// At a control character, at bytes that are no text, at a remark longer than anybody reads.
pub fn check(results: &[u8], remarks: &[u8]) {
    check_text("standard output", results);
    check_text("standard error", remarks);
    let longest = remarks.split(|byte| *byte == b'\n').map(<[u8]>::len).max();
    assert!(
        longest <= Some(LONGEST_LINE),
        "a line of {longest:?} bytes on standard error"
    );
}

/// Looks at a page, if there is one.
pub fn check_page(path: &Path) {
    if let Ok(page) = fs::read(path) {
        check_text("the page", &page);
    }
}

fn check_text(what: &str, bytes: &[u8]) {
    let text = std::str::from_utf8(bytes);
    assert!(text.is_ok(), "{what} holds bytes that are no text");
    let control = |letter: &char| letter.is_control() && *letter != '\n';
    let found = text.unwrap_or_default().chars().find(control);
    assert!(
        found.is_none(),
        "{what} holds the control character {found:?}"
    );
}
