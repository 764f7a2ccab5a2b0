//! How a table is written: what stands between the fields, and where the header is.

use super::error::ImportError;

/// How one file is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Dialect {
    /// The byte between fields.
    pub delimiter: u8,
    /// Bytes before the header line: byte order mark, blank and comment lines.
    pub header_at: usize,
}

/// Byte order mark of UTF-8, which may begin a file.
const BYTE_ORDER_MARK: &[u8] = "\u{FEFF}".as_bytes();

impl Dialect {
    /// Determines the dialect from the first bytes of a file.
    ///
    /// # Errors
    /// When this is no text, no table, or a capture.
    pub fn of(head: &[u8]) -> Result<Self, ImportError> {
        if head.starts_with(b"# capture ") {
            return Err(ImportError::AlreadyCapture);
        }
        if head.contains(&0) {
            return Err(ImportError::NotText);
        }
        let mut header_at = if head.starts_with(BYTE_ORDER_MARK) {
            BYTE_ORDER_MARK.len()
        } else {
            0
        };
        let lines = head.get(header_at..).unwrap_or_default();
        for line in lines.split_inclusive(|byte| *byte == b'\n') {
            if line.iter().all(u8::is_ascii_whitespace) || line.starts_with(b"#") {
                header_at += line.len();
                continue;
            }
            let delimiter = delimiter_of(line);
            return Ok(Self {
                delimiter,
                header_at,
            });
        }
        Err(ImportError::NoReadings)
    }
}

/// The commonest of the usual delimiters outside quotes; the rarer sign wins a draw.
fn delimiter_of(line: &[u8]) -> u8 {
    let count = |delimiter: u8| {
        let mut quoted = false;
        line.iter()
            .filter(|byte| {
                quoted ^= **byte == b'"';
                !quoted && **byte == delimiter
            })
            .count()
    };
    let usual = [b',', b';', b'\t', b'|'];
    usual
        .into_iter()
        .max_by_key(|delimiter| count(*delimiter))
        .unwrap_or(b',')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn delimiter_and_header_are_found() {
        for (text, delimiter, header_at) in [
            ("time,rpm\n", b',', 0),
            ("time;rpm, engine\n", b';', 0),
            ("time\trpm\n", b'\t', 0),
            ("\u{FEFF}# made by somebody\n\n\"a;b;c\",rpm\n", b',', 23),
            ("rpm\n", b'|', 0),
        ] {
            let dialect = Dialect::of(text.as_bytes()).unwrap();
            assert_eq!(
                (dialect.delimiter, dialect.header_at),
                (delimiter, header_at),
                "{text:?}"
            );
        }
    }

    #[test]
    fn what_is_no_table_is_refused() {
        assert!(matches!(
            Dialect::of(b"# capture 1\n"),
            Err(ImportError::AlreadyCapture)
        ));
        assert!(matches!(Dialect::of(b"t\0i\0"), Err(ImportError::NotText)));
        assert!(matches!(Dialect::of(b"\n\n"), Err(ImportError::NoReadings)));
    }
}
