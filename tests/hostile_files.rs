//! Files that no program wrote in good faith: what they hold is bounded, said, and passed over.

use std::fmt::Write;

use serde_json::Value;

use crate::harness::Workbench;

const HEADER: &str = "# capture 1\n# {}\nt_us,kind,ecu,request,response\n";

/// Longest line that a person is asked to read.
const LONGEST_LINE: usize = 1_200;

/// What is said on standard error when the command is refused: one line.
fn refused(bench: &Workbench, arguments: &[&str]) -> String {
    let output = bench.pintle(arguments).output().unwrap();
    assert_eq!(output.status.code(), Some(1), "{output:?}");
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(said.lines().count(), 1, "{said}");
    assert!(said.len() < LONGEST_LINE, "{} bytes", said.len());
    said
}

fn results(bench: &Workbench, arguments: &[&str]) -> String {
    let output = bench.pintle(arguments).output().unwrap();
    assert!(output.status.success(), "{output:?}");
    String::from_utf8(output.stdout).unwrap()
}

// SAE J1979: a misfire counter has two bytes, engine speed ends at 16 383.75 rpm
#[test]
fn numbers_that_a_quantity_cannot_have_are_named_and_passed_over() {
    let bench = Workbench::new();
    for (name, rows, impossible) in [
        (
            "counter.capture.csv",
            "0,value,,06A20C,0\n1000000,value,,06A20C,1e16\n",
            "line 5",
        ),
        (
            "speed.capture.csv",
            "0,value,,010C,1e308\n100000,value,,06A20C,0\n2000000,value,,06A20C,65535\n",
            "line 4",
        ),
    ] {
        bench.file(name, format!("{HEADER}{rows}"));
        results(&bench, &["diagnose", name]);
        let said = results(&bench, &["inspect", name]);
        let line = said.lines().find(|line| line.contains(impossible)).unwrap();
        assert!(line.contains("impossible for its quantity"), "{line}");
    }
}

#[test]
fn cells_that_a_quantity_cannot_have_are_counted_and_not_imported() {
    let bench = Workbench::new();
    let table = "time (s),Engine RPM,Coolant temp\n0,800,90\n1,1e16,91\n2,820,92\n";
    bench.file("table.csv", table);
    let said = results(&bench, &["import", "table.csv", "--json"]);
    let said: Value = serde_json::from_str(&said).unwrap();
    let speed = &said["matched"][0];
    assert_eq!(
        (&speed["readings"], &speed["impossible"]),
        (&2.into(), &1.into()),
        "{said}"
    );
    let said = results(&bench, &["inspect", "table.capture.csv"]);
    assert!(said.contains("no damage"), "{said}");
}

#[test]
fn a_line_without_end_is_refused_before_all_of_it_is_read() {
    let bench = Workbench::new();
    bench.file(
        "endless.csv",
        "Time,RPM\n".to_owned() + &"1,".repeat(2 << 20),
    );
    let said = refused(&bench, &["import", "endless.csv"]);
    assert!(said.contains("line 2") && said.contains("1 MB"), "{said}");
    let quoted = "Time,RPM\n1,\"".to_owned() + &"7\n".repeat(1 << 20);
    bench.file("quoted.csv", quoted);
    assert!(refused(&bench, &["import", "quoted.csv"]).contains("1 MB"));
    bench.file("wide.csv", "RPM,".repeat(20_000) + "\n1\n");
    assert!(refused(&bench, &["import", "wide.csv"]).contains("10000 columns"));
}

#[test]
fn an_error_repeats_no_more_than_a_line_of_what_it_complains_of() {
    let bench = Workbench::new();
    let long = "x".repeat(30_000);
    bench.file("names.csv", format!("{}\n1,2\n", [&*long; 30].join(",")));
    assert!(refused(&bench, &["import", "names.csv"]).contains('…'));
    bench.file("van.toml", format!("label = \"{long}\"\n{long} = 3\n"));
    bench.file("a.capture.csv", format!("{HEADER}0,mark,,,a\n"));
    let diagnose = ["diagnose", "a.capture.csv", "--vehicle", "van.toml"];
    assert!(refused(&bench, &diagnose).contains('…'));
    bench.file("large.toml", "# a comment\n".repeat(30_000));
    let diagnose = ["diagnose", "a.capture.csv", "--vehicle", "large.toml"];
    assert!(refused(&bench, &diagnose).contains("larger than 64 kB"));
}

#[test]
fn names_of_controllers_without_end_are_counted_together() {
    let bench = Workbench::new();
    let mut text = HEADER.to_owned();
    for number in 0..50_000 {
        writeln!(text, "{number},data,{number:X},010C,410C0BB8").unwrap();
        writeln!(text, "{number},none,7E8,{number:06X},NO DATA {number}").unwrap();
        writeln!(text, "{number},data,7E8,{number:06X},62").unwrap();
    }
    bench.file("many.capture.csv", text);
    let said = results(&bench, &["inspect", "many.capture.csv"]);
    assert!(
        said.lines().count() < 6_000,
        "{} lines",
        said.lines().count()
    );
    assert!(said.contains("others"));
}
