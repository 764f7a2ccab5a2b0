//! What the commands print while a worker runs them: its own standard output and standard error, which are files.

use std::{fs::File, io::Read};

use super::super::{
    said,
    slice::{REMARKS, RESULTS, Slice},
};

/// Both files, read up to where the last look ended.
pub struct Spoken {
    results: File,
    remarks: File,
}

impl Spoken {
    pub fn of(slice: &Slice) -> Self {
        let open = |what| File::open(slice.said(what)).unwrap();
        Self {
            results: open(RESULTS),
            remarks: open(REMARKS),
        }
    }

    /// Looks at what was printed since the last look.
    pub fn check(&self) {
        let new = |mut file: &File| {
            let mut new = Vec::new();
            file.read_to_end(&mut new).unwrap();
            new
        };
        said::check(&new(&self.results), &new(&self.remarks));
    }
}
