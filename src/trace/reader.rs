//! Reading a trace, whole.

use std::{fs, path::Path};

use super::{
    TITLE,
    entry::Entry,
    error::{BadEntry, TraceError},
};

/// Longest piece of a wrong first line that is shown, in characters.
const SHOWN: usize = 40;

/// Reads a trace file.
///
/// # Errors
/// When there is no such file, it is no trace, or a line of it is wrong; a line that was cut off at the end of the file,
/// as by a crash, is left out instead.
pub fn read(path: &Path) -> Result<Vec<Entry>, TraceError> {
    let content = fs::read(path).map_err(|error| TraceError::opening(path, error))?;
    parse(&content)
}

/// Reads the content of a trace file; line ends may be LF or CR LF.
///
/// # Errors
/// As [`read`].
pub fn parse(content: &[u8]) -> Result<Vec<Entry>, TraceError> {
    let mut lines = content.split_inclusive(|byte| *byte == b'\n').zip(1..);
    let (title, _) = lines.next().unwrap_or_default();
    if title.trim_ascii_end() != TITLE.as_bytes() {
        let found = String::from_utf8_lossy(title);
        let found = found.trim_end().chars().take(SHOWN).collect();
        return Err(TraceError::NotATrace(found));
    }
    let mut entries: Vec<Entry> = Vec::new();
    for (whole, line) in lines {
        let text = whole.strip_suffix(b"\n").unwrap_or(whole);
        let text = text.strip_suffix(b"\r").unwrap_or(text);
        if text.is_empty() || text.starts_with(b"#") {
            continue;
        }
        let last_us = entries.last().map_or(0, |entry| entry.t_us);
        match Entry::parse(text) {
            Ok(entry) if entry.t_us >= last_us => entries.push(entry),
            _ if !whole.ends_with(b"\n") => {}
            Ok(_) => {
                let problem = BadEntry::Backwards;
                return Err(TraceError::Line { line, problem });
            }
            Err(problem) => return Err(TraceError::Line { line, problem }),
        }
    }
    Ok(entries)
}

#[cfg(test)]
mod tests {
    use super::{super::entry::Event, *};

    fn problem(content: &str) -> String {
        parse(content.as_bytes()).unwrap_err().to_string()
    }

    #[test]
    fn remarks_and_empty_lines_are_passed_over_and_line_ends_may_be_either() {
        let content = "pintle trace v1\r\n# a remark\r\n\r\n5 out ATZ\\r\r\n9 in OK\n";
        let entries = parse(content.as_bytes()).unwrap();
        let expected = [
            (5, Event::Out(b"ATZ\r".to_vec())),
            (9, Event::In(b"OK".to_vec())),
        ];
        assert_eq!(entries, expected.map(|(t_us, event)| Entry { t_us, event }));
    }

    #[test]
    fn errors_name_the_line() {
        assert_eq!(
            problem("pintle trace v1\n# x\n5 out A\n4 in B\n"),
            "line 4: its time is before that of the line above"
        );
        assert!(problem("pintle trace v1\n5 says A\n").starts_with("line 2: expected `out`"));
        for content in ["", "# capture 1\n", "pintle trace v2\n", "\u{feff}\u{0}"] {
            assert!(
                problem(content).starts_with("this is not a trace"),
                "{content:?}"
            );
        }
    }

    #[test]
    fn a_last_line_cut_off_by_a_crash_is_no_error() {
        for torn in ["9 in 41\\x0", "9 i", "9", "2 in A"] {
            let content = format!("pintle trace v1\n5 out A\n{torn}");
            assert_eq!(parse(content.as_bytes()).unwrap().len(), 1, "{torn}");
        }
    }

    #[test]
    fn what_is_no_file_is_told() {
        let folder = tempfile::tempdir().unwrap();
        assert!(matches!(
            read(&folder.path().join("none")),
            Err(TraceError::Missing)
        ));
        assert!(matches!(read(folder.path()), Err(TraceError::Folder)));
    }
}
