//! What is read of whole, cut, damaged and foreign files.

use std::io::Write;

use flate2::{Compression, write::GzEncoder};
use proptest::prelude::*;

use super::*;
use crate::capture::{Kind, Writer};

/// A whole capture with a few rows.
const SMALL: &str = "# capture 1\n# {\"program\":\"pintle 0.1.0\"}\nt_us,kind,ecu,request,response\n\
    0,mark,,,recording starts\n10,data,7E8,010C,410C0BB8\n12,mark,,,\"two\nlines, one \"\"mark\"\"\"\n\
    20,data,7E8,0105,41057B\n30,link,,,lost: device disconnected\n";

/// All rows as text, and the damage; or why the file is refused.
fn read(bytes: &[u8]) -> Result<(Vec<String>, Damage), CaptureError> {
    let file = tempfile::NamedTempFile::new().unwrap();
    std::fs::write(file.path(), bytes).unwrap();
    let mut reader = Reader::open(file.path())?;
    let mut rows = Vec::new();
    while let Some(row) = reader.next_row()? {
        rows.push(format!("{row:?}"));
    }
    Ok((rows, reader.damage().clone()))
}

fn gzip(parts: &[&[u8]]) -> Vec<Vec<u8>> {
    let member = |part: &&[u8]| {
        let mut encoder = GzEncoder::new(Vec::new(), Compression::new(6));
        encoder.write_all(part).unwrap();
        encoder.finish().unwrap()
    };
    parts.iter().map(member).collect()
}

#[test]
fn a_small_capture_is_read_whole() {
    let (rows, damage) = read(SMALL.as_bytes()).unwrap();
    assert_eq!(rows.len(), 5);
    assert!(
        rows[2].contains(r#"two\nlines, one \"mark\""#),
        "{}",
        rows[2]
    );
    assert!(damage.is_none());
}

#[test]
fn a_cut_at_any_byte_loses_no_earlier_row() {
    let (whole, _) = read(SMALL.as_bytes()).unwrap();
    let header_end = SMALL.match_indices('\n').nth(1).unwrap().0 + 1;
    // After these bytes another row is complete.
    let ends: Vec<usize> = (0..SMALL.len())
        .filter(|at| {
            read(&SMALL.as_bytes()[..=*at]).is_ok_and(|(rows, damage)| {
                damage.is_none() && !rows.is_empty() && SMALL.as_bytes()[*at] == b'\n'
            })
        })
        .collect();
    assert_eq!(ends.len(), 5);
    for cut in 0..SMALL.len() {
        match read(&SMALL.as_bytes()[..cut]) {
            Err(CaptureError::Empty) => assert_eq!(cut, 0),
            Err(CaptureError::Truncated) => assert!((1..header_end).contains(&cut)),
            Err(other) => panic!("cut at {cut}: {other}"),
            Ok((rows, damage)) => {
                let complete = ends.iter().filter(|end| **end < cut).count();
                assert_eq!(rows, whole[..complete], "cut at {cut}");
                let clean = cut == header_end
                    || SMALL[..cut].ends_with("response\n")
                    || ends.contains(&(cut - 1));
                assert_eq!(damage.is_none(), clean, "cut at {cut}");
            }
        }
    }
}

#[test]
fn bad_lines_are_counted_and_the_first_ten_named() {
    let mut text = SMALL.to_owned();
    text.push_str("40,data,7E8,010C,410C0BB8\ngarbage\n35,mark,,,back\n\n50,data,7E8,010C,41ZZ\n");
    text.push_str("60,mark,,,\"never closed\n");
    text.push_str(&"x\n".repeat(12));
    text.push_str("70,mark,,,still here\n80,mark,,,torn");
    let (rows, damage) = read(text.as_bytes()).unwrap();
    assert_eq!(rows.len(), 7);
    assert_eq!(damage.bad_lines, 16);
    let named: Vec<u64> = damage.first_bad.iter().map(|bad| bad.line).collect();
    assert_eq!(named, [11, 12, 14, 15, 16, 17, 18, 19, 20, 21]);
    assert_eq!(damage.first_bad[1].problem, "the time goes back");
    assert!(damage.torn_end);
}

#[test]
fn line_ends_and_byte_order_mark_of_a_spreadsheet_are_read() {
    let text = format!("\u{FEFF}{}", SMALL.replace("\n", "\r\n"));
    let (rows, damage) = read(text.as_bytes()).unwrap();
    assert_eq!(rows.len(), 5);
    assert!(damage.is_none());
}

#[test]
fn what_is_no_capture_is_refused_by_its_kind() {
    let refused = |bytes: &[u8]| read(bytes).unwrap_err();
    assert!(matches!(refused(b""), CaptureError::Empty));
    assert!(matches!(
        refused(b"# capture 9\n# {}\n"),
        CaptureError::LaterVersion(9)
    ));
    assert!(matches!(refused(b"\x7FELF\0\0\n"), CaptureError::Binary));
    assert!(matches!(refused(&[0xFF; 4096]), CaptureError::Binary));
    assert!(matches!(
        refused(b"time,rpm\n0,800\n"),
        CaptureError::ForeignTable(_)
    ));
    assert!(matches!(
        refused(b"Dear all\n"),
        CaptureError::NotACapture(_)
    ));
    assert!(matches!(refused(b"Dear all"), CaptureError::NotACapture(_)));
    let folder = tempfile::tempdir().unwrap();
    assert!(matches!(
        Reader::open(folder.path()),
        Err(CaptureError::Folder)
    ));
    let missing = folder.path().join("no");
    assert!(matches!(Reader::open(&missing), Err(CaptureError::Missing)));
}

#[test]
fn a_cut_chain_of_gzip_members_gives_every_complete_member() {
    let half = SMALL.find("20,data").unwrap();
    let (first, second) = SMALL.as_bytes().split_at(half);
    let members = gzip(&[first, second]);
    let whole = members.concat();
    assert_eq!(read(&whole).unwrap().0.len(), 5);
    for cut in 0..whole.len() {
        match read(&whole[..cut]) {
            Ok((rows, damage)) => {
                assert!(rows.len() >= 3 || cut < members[0].len(), "cut at {cut}");
                let clean = cut == members[0].len();
                assert_eq!(damage.is_none(), clean, "cut at {cut}");
            }
            Err(_) => assert!(cut < members[0].len(), "cut at {cut}"),
        }
    }
}

/// Rows of ten members, each with a mark of its own number and as many more as it says.
fn chain(marks: usize) -> Vec<Vec<u8>> {
    let mut parts = vec!["# capture 1\n# {}\nt_us,kind,ecu,request,response\n".to_owned()];
    for number in 0..10 {
        let rows = (0..marks).map(|mark| format!("{number}{mark:06},mark,,,member {number}\n"));
        let rows: String = rows.collect();
        match number {
            0 => parts[0] += &rows,
            _ => parts.push(rows),
        }
    }
    gzip(&parts.iter().map(|part| part.as_bytes()).collect::<Vec<_>>())
}

/// One flipped bit costs the member in which it is, or nothing, and no row is there that was not written.
#[test]
fn a_flipped_bit_in_a_chain_of_gzip_members_costs_one_member() {
    let members = chain(2);
    let whole = members.concat();
    let (all, _) = read(&whole).unwrap();
    assert_eq!(all.len(), 20);
    let (from, until) = (members[0].len(), members[..3].concat().len());
    let mut lost = 0;
    for bit in 8 * from..8 * until {
        let mut flipped = whole.clone();
        flipped[bit / 8] ^= 1 << (bit % 8);
        let (rows, damage) = read(&flipped).unwrap();
        let number = if bit < 8 * (from + members[1].len()) {
            1
        } else {
            2
        };
        let others = |row: &&String| !row.contains(&format!("member {number}"));
        let expected: Vec<&String> = all.iter().filter(others).collect();
        let found: Vec<&String> = rows.iter().filter(others).collect();
        assert_eq!(found, expected, "bit {bit}");
        // a bit of the time or the system in the member's header says nothing of the rows
        assert!(rows == all || damage.broken_compression, "bit {bit}");
        assert!(
            rows.iter().all(|row| all.contains(row)),
            "bit {bit}: {rows:?}"
        );
        lost += usize::from(rows.len() == 18);
    }
    assert!(
        lost > 4 * (until - from),
        "most bits cost their member: {lost}"
    );
}

#[test]
fn a_capture_whose_first_member_is_damaged_still_gives_the_others() {
    let mut members = chain(3);
    let middle = members[0].len() / 2;
    members[0][middle] ^= 0x10;
    let (rows, damage) = read(&members.concat()).unwrap();
    assert_eq!(rows.len(), 27);
    assert!(damage.broken_compression);
    assert!(damage.first_bad[0].problem.contains("the car's details"));
    assert!(matches!(
        read(&members[0]).unwrap_err(),
        CaptureError::BrokenCompression
    ));
}

/// Longer than what is kept until its checksum is read.
#[test]
fn a_long_member_is_believed_by_its_checksum_too() {
    let mut members = chain(40_000);
    let one = read(&members.concat()).unwrap().0.len();
    assert_eq!(one, 400_000);
    let all = format!("{}{}", SMALL, "40,mark,,,again and again\n".repeat(400_000));
    let mut long = gzip(&[all.as_bytes()]).concat();
    assert_eq!(read(&long).unwrap().0.len(), 400_005);
    // its checksum stands before the last four bytes
    let at = long.len() - 6;
    long[at] ^= 1;
    assert!(matches!(
        read(&long).unwrap_err(),
        CaptureError::BrokenCompression
    ));
    members.push(long);
    let (rows, damage) = read(&members.concat()).unwrap();
    assert_eq!((rows.len(), damage.broken_compression), (one, true));
}

/// A line of a capture by chance: rows, rows that go back or far ahead, quotes that close or do not, rubbish.
fn line() -> impl Strategy<Value = String> {
    prop_oneof![
        8 => (0_u64..2000).prop_map(|t_us| format!("{t_us},mark,,,a\n")),
        4 => (0_u64..2000).prop_map(|t_us| format!("{t_us},mark,,,\"two\nlines\"\n")),
        1 => (0_u64..9).prop_map(|days| format!("{},mark,,,far\n", days * 90_000_000_000)),
        1 => (0_u64..2000).prop_map(|t_us| format!("{t_us},mark,,,\"open\n")),
        1 => Just("rubbish\r\n".to_owned()),
        1 => Just("\n".to_owned()),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    #[test]
    fn rows_read_back_as_written_plain_and_compressed(
        texts in proptest::collection::vec((0_u64..5_000_000, "(?s).{0,30}"), 0..40),
        compressed: bool,
    ) {
        let folder = tempfile::tempdir().unwrap();
        let name = if compressed { "a.capture.csv.gz" } else { "a.capture.csv" };
        let path = folder.path().join(name);
        let mut writer = Writer::create(&path, &Header::by_this_program()).unwrap();
        let mut t_us = 0;
        for (step, text) in &texts {
            t_us += step;
            writer.write(&Row::mark(t_us, text)).unwrap();
        }
        writer.finish().unwrap();
        let mut reader = Reader::open(&path).unwrap();
        let mut t_us = 0;
        for (step, text) in &texts {
            t_us += step;
            prop_assert_eq!(reader.next_row().unwrap(), Some(Row::mark(t_us, text)));
        }
        prop_assert_eq!(reader.next_row().unwrap(), None);
        prop_assert!(reader.damage().is_none());
    }

    #[test]
    fn reading_on_from_any_place_finds_what_reading_through_finds(
        lines in proptest::collection::vec(line(), 0..60),
        torn in "[0-9,mark\"]{0,12}",
        compressed: bool,
    ) {
        let text = format!("{}{}{torn}", SMALL, lines.concat());
        let bytes = if compressed { gzip(&[text.as_bytes()]).concat() } else { text.into_bytes() };
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), bytes).unwrap();
        let mut reader = Reader::open(file.path()).unwrap();
        let mut places = vec![reader.place()];
        let mut rows = Vec::new();
        while let Some(row) = reader.next_row().unwrap() {
            rows.push(format!("{row:?}"));
            places.push(reader.place());
        }
        let damage = reader.damage().clone();
        for (before, place) in places.iter().enumerate() {
            reader.go_to(file.path(), place).unwrap();
            for row in &rows[before..] {
                prop_assert_eq!(row, &format!("{:?}", reader.next_row().unwrap().unwrap()));
            }
            prop_assert_eq!(reader.next_row().unwrap(), None);
            prop_assert_eq!(reader.damage(), &damage);
        }
    }

    #[test]
    fn a_row_that_is_later_stays_the_next_one(
        lines in proptest::collection::vec(line(), 0..60),
        step_us in 1_u64..200,
    ) {
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), format!("{}{}", SMALL, lines.concat())).unwrap();
        let (rows, damage) = read(&std::fs::read(file.path()).unwrap()).unwrap();
        let mut reader = Reader::open(file.path()).unwrap();
        let (mut until_us, mut in_steps) = (0, Vec::new());
        loop {
            match reader.next_row_until(until_us).unwrap() {
                Next::Row(row) => {
                    prop_assert!(row.t_us <= until_us);
                    in_steps.push(format!("{row:?}"));
                }
                Next::Later(t_us) => {
                    prop_assert!(t_us > until_us);
                    until_us = (until_us + step_us).max(t_us.saturating_sub(step_us));
                }
                Next::End => break,
            }
        }
        prop_assert_eq!(in_steps, rows);
        prop_assert_eq!(reader.damage(), &damage);
    }

    #[test]
    fn no_bytes_break_the_reading(tail in proptest::collection::vec(any::<u8>(), 0..200)) {
        let mut bytes = SMALL.as_bytes().to_vec();
        bytes.extend(tail);
        let (rows, _) = read(&bytes).unwrap();
        prop_assert!(rows.len() >= 5);
    }
}

#[test]
fn kinds_are_told_apart() {
    let mut blocks = open_text(SMALL);
    let kinds: Vec<Kind> =
        std::iter::from_fn(|| blocks.next_row().unwrap().map(|row| row.kind)).collect();
    assert_eq!(
        kinds,
        [Kind::Mark, Kind::Data, Kind::Mark, Kind::Data, Kind::Link]
    );
}

fn open_text(text: &str) -> Reader {
    let file = tempfile::NamedTempFile::new().unwrap();
    std::fs::write(file.path(), text).unwrap();
    Reader::open(file.path()).unwrap()
}
