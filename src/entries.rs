//! TOML files that people write, read or answered with the place of the mistake.

use std::{
    fs::File,
    io::{self, Read},
    path::Path,
};

use serde::de::DeserializeOwned;

/// Larger files are not read: the longest form has a few thousand letters, and the time to read one grows faster than its
/// length.
const MOST_BYTES: u64 = 64 << 10;

/// The text of a file of this kind.
///
/// # Errors
/// Whatever the operating system refuses; [`io::ErrorKind::InvalidData`] when it is no text, or too large.
pub fn read_file(path: &Path) -> io::Result<String> {
    let mut text = String::new();
    File::open(path)?
        .take(MOST_BYTES + 1)
        .read_to_string(&mut text)?;
    if text.len() as u64 > MOST_BYTES {
        let problem = "the file is larger than 64 kB, too large for such a form";
        return Err(io::Error::new(io::ErrorKind::InvalidData, problem));
    }
    Ok(text)
}

/// Reads a whole text.
///
/// # Errors
/// What is wrong, behind its line and column, on one line.
pub fn read<T: DeserializeOwned>(text: &str) -> Result<T, String> {
    toml::from_str(text).map_err(|error: toml::de::Error| {
        let (line, column) = place(text, error.span().map_or(0, |span| span.start));
        let what = error.message().lines().collect::<Vec<_>>().join(", ");
        format!("line {line}, column {column}: {what}")
    })
}

/// Line and column, from 1, of the byte at `offset`.
pub fn place(text: &str, offset: usize) -> (usize, usize) {
    let before = text.get(..offset).unwrap_or(text);
    let line_start = before.rfind('\n').map_or(0, |at| at + 1);
    let line = before.get(line_start..).unwrap_or_default();
    (before.matches('\n').count() + 1, line.chars().count() + 1)
}

#[cfg(test)]
mod tests {
    use serde::Deserialize;

    use super::*;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Form {
        #[serde(rename = "cylinders")]
        _cylinders: u8,
    }

    #[test]
    fn a_mistake_is_reported_on_one_line_with_its_place() {
        let message = |text: &str| read::<Form>(text).unwrap_err();
        let unknown = message("# van\nlabel = 3\n");
        assert!(
            unknown.starts_with("line 2, column 1: unknown field `label`"),
            "{unknown}"
        );
        let text = message("cylinders = \"four\"");
        assert!(text.starts_with("line 1, column 13: "), "{text}");
        let grammar = message("cylinders = 4\nö = = 3");
        assert!(grammar.starts_with("line 2, column "), "{grammar}");
        assert!(!grammar.contains('\n'), "{grammar}");
    }
}
