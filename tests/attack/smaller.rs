//! Makes an input small that breaks something: leaves out lines, then bytes, as long as it breaks the same.

use std::time::{Duration, Instant};

/// Longest time spent on it.
const LONGEST: Duration = Duration::from_secs(10);

/// The smallest input found that still breaks.
pub fn smaller(input: &[u8], mut breaks: impl FnMut(&[u8]) -> bool) -> Vec<u8> {
    let until = Instant::now() + LONGEST;
    let lines = input
        .split_inclusive(|byte| *byte == b'\n')
        .map(<[u8]>::to_vec)
        .collect();
    let lines = without(lines, until, |lines| breaks(&lines.concat())).concat();
    let bytes = lines.iter().map(|byte| vec![*byte]).collect();
    without(bytes, until, |bytes| breaks(&bytes.concat())).concat()
}

/// Leaves out pieces, half of them at first, then ever fewer at once.
fn without(
    mut pieces: Vec<Vec<u8>>,
    until: Instant,
    mut breaks: impl FnMut(&[Vec<u8>]) -> bool,
) -> Vec<Vec<u8>> {
    let mut count = pieces.len() / 2;
    while count > 0 && Instant::now() < until {
        let mut at = 0;
        while at < pieces.len() && Instant::now() < until {
            let end = (at + count).min(pieces.len());
            let fewer = [&pieces[..at], &pieces[end..]].concat();
            if breaks(&fewer) {
                pieces = fewer
            } else {
                at = end
            }
        }
        count /= 2;
    }
    pieces
}
