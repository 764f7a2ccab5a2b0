//! Whether two files hold one and the same recording, compressed or not.

use std::{fs, path::Path};

use super::{error::CaptureError, reader::Reader};

/// Whether both are one file, or two with the same header and the same rows. A file that cannot be read is no copy.
pub fn is_same_recording(one: &Path, other: &Path) -> bool {
    let place = |path: &Path| fs::canonicalize(path).ok();
    let one_file = place(one).zip(place(other)).is_some_and(|(a, b)| a == b);
    one_file || has_same_rows(one, other).unwrap_or(false)
}

fn has_same_rows(one: &Path, other: &Path) -> Result<bool, CaptureError> {
    let (mut one, mut other) = (Reader::open(one)?, Reader::open(other)?);
    if one.header() != other.header() {
        return Ok(false);
    }
    loop {
        match (one.next_row()?, other.next_row()?) {
            (None, None) => return Ok(true),
            (here, there) if here != there => return Ok(false),
            _ => {}
        }
    }
}
