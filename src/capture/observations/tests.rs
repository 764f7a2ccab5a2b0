//! Blocks on all cores against rows one by one.

use std::fmt::Write;

use pintle_protocol::{Item, Pid};

use super::*;
use crate::capture::{Decoder, Reader};

fn file_of(text: &str) -> tempfile::NamedTempFile {
    let file = tempfile::NamedTempFile::new().unwrap();
    std::fs::write(file.path(), text).unwrap();
    file
}

fn capture(rows: &str) -> String {
    format!("# capture 1\n# {{}}\nt_us,kind,ecu,request,response\n{rows}")
}

/// Facts and damage read on all cores in blocks.
fn in_blocks(path: &Path) -> (Vec<String>, Damage) {
    let mut facts = Vec::new();
    let observations = Observations::open(path).unwrap();
    let damage = observations
        .for_each(|fact| facts.push(format!("{fact:?}")))
        .unwrap();
    (facts, damage)
}

/// Facts and damage read row by row, the slower and simpler way.
fn row_by_row(path: &Path) -> (Vec<String>, Damage) {
    let mut facts = Vec::new();
    let mut reader = Reader::open(path).unwrap();
    let mut decoder = Decoder::new(reader.header());
    while let Some(row) = reader.next_row().unwrap() {
        decoder.row(&row, |fact| facts.push(format!("{fact:?}")));
    }
    (facts, reader.damage().clone())
}

/// Several blocks of rows of two controllers, with remarks, codes, damage and times that go astray.
fn long_and_damaged() -> String {
    let mut rows = String::new();
    for n in 0..40_000_u64 {
        let t_us = n * 20_000;
        match n % 1000 {
            17 => writeln!(rows, "{t_us},mark,,,\"two\nlines, {n}\""),
            18 => writeln!(rows, "{t_us},data,7E8,07,47010301"),
            19 => writeln!(rows, "{t_us},data,7E9,0106,410690"),
            20 => writeln!(rows, "{},data,7E8,0105,410540", t_us / 2),
            21 => writeln!(rows, "{},data,7E8,0105,410541", t_us + 900_000_000_000),
            22 => writeln!(rows, "garbage {n}"),
            23 => writeln!(rows, "{t_us},data,7E8,010C0607,410C0BB806800784"),
            24 => writeln!(rows, "{t_us},value,,010F,21.5"),
            25 => writeln!(rows, "{t_us},none,7E8,0162,NO DATA"),
            26 => writeln!(rows, "{t_us},mark,,,\"never closed"),
            27 => writeln!(rows, "{t_us},data,7E8,22F40CF406,62F40C0BB8F40680"),
            28 => writeln!(rows, "{t_us},data,7E8,22F6A2,62F6A20C240005000000FF"),
            29 => writeln!(rows, "{t_us},data,7E8,194233041E,594233FF1E0402030100AF"),
            _ if n % 3 == 0 => writeln!(rows, "{t_us},data,7E8,0106,4106{:02X}", n % 256),
            _ => writeln!(rows, "{t_us},data,7E9,010D,410D{:02X}", n % 200),
        }
        .unwrap();
    }
    capture(&rows)
}

#[test]
fn blocks_on_all_cores_say_the_same_as_rows_one_by_one() {
    let file = file_of(&long_and_damaged());
    assert!(file.path().metadata().unwrap().len() > 4 * super::super::block::BLOCK_BYTES as u64);
    let (facts, damage) = in_blocks(file.path());
    let (expected, expected_damage) = row_by_row(file.path());
    assert!(expected.len() > 10_000);
    assert_eq!(facts.len(), expected.len());
    assert!(facts == expected);
    assert_eq!(damage, expected_damage);
}

/// A car that reports by SAE J1979 and by ISO 14229 (SAE J1979-2) gives equal facts, row by row.
#[test]
fn both_families_of_services_give_the_same_facts() {
    let older = "1,data,7E8,010C0607,410C0BB806800784\n2,data,7E8,06A2,46A20C2400050000FFFF\n\
        3,data,7E8,07,47010301\n4,data,7E8,0100,4100BE1FA813\n5,value,,0106,1.5\n6,data,7E8,0600,460080000001\n";
    let newer = "1,data,7E8,22F40CF406F407,62F40C0BB8F40680F40784\n2,data,7E8,22F6A2,62F6A20C2400050000FFFF\n\
        3,data,7E8,194233041E,594233FF1E0402030100AF\n4,data,7E8,22F400,62F400BE1FA813\n5,value,,22F406,1.5\n\
        6,data,7E8,22F600,62F60080000001\n";
    let facts = |rows| {
        let file = file_of(&capture(rows));
        let (facts, damage) = in_blocks(file.path());
        assert!(damage.is_none());
        assert_eq!((&facts, &damage), (&row_by_row(file.path()).0, &damage));
        facts
    };
    let (older, newer) = (facts(older), facts(newer));
    let readings = |facts: &[String]| -> Vec<String> {
        let readings = facts.iter().filter(|fact| fact.starts_with("Reading"));
        readings.cloned().collect()
    };
    assert_eq!(readings(&older).len(), 5, "{older:?}");
    assert_eq!(readings(&newer), readings(&older));
    assert_eq!(newer.len(), older.len());
    let codes = |facts: &[String]| facts.iter().filter(|fact| fact.contains("Pending")).count();
    assert_eq!((codes(&newer), codes(&older)), (1, 1));
}

#[test]
fn a_pause_of_days_between_blocks_loses_no_more_than_between_rows() {
    let mut rows = String::new();
    for n in 0..30_000_u64 {
        let pause = if n < 15_000 { 0 } else { 3 * 86_400_000_000 };
        writeln!(rows, "{},data,7E8,0106,410680", n * 20_000 + pause).unwrap();
    }
    let file = file_of(&capture(&rows));
    assert!(in_blocks(file.path()) == row_by_row(file.path()));
    assert_eq!(in_blocks(file.path()).0.len(), 29_999);
}

#[test]
fn only_the_engine_controller_and_other_loggers_count() {
    let rows = "1,data,7E9,010D,410D10\n2,data,7E8,0106,410680\n3,data,7E9,010D,410D20\n\
        4,data,7E8,010D,410D30\n5,value,,010D,64\n6,data,7E9,03,43010420\n7,data,7E8,03,43010171\n";
    let file = file_of(&capture(rows));
    let mut speeds = Vec::new();
    let mut answers = Vec::new();
    let observations = Observations::open(file.path()).unwrap();
    observations
        .for_each(|fact| match fact {
            Fact::Reading(reading) if reading.item == Item::current(Pid::VEHICLE_SPEED) => {
                speeds.push(reading.value);
            }
            Fact::Answer { t_us, .. } => answers.push(t_us),
            _ => {}
        })
        .unwrap();
    // The first controller counts until another one answers a trim.
    assert_eq!(speeds, [16.0, 48.0, 64.0]);
    assert_eq!(answers, [7]);
}
