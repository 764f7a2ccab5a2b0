//! Traces: what `--trace` keeps of a conversation.

use std::time::Duration;

use pintle::trace::{self, Event};

use crate::{bay::Bay, harness::Workbench};

/// No command may hang: after this time a test fails.
const AT_MOST: Duration = Duration::from_secs(60);

#[test]
fn a_trace_keeps_every_byte_both_ways_and_the_opening_with_its_speed() {
    let bench = Workbench::new();
    let bay = Bay::real("van3");
    bench
        .pintle(["codes", "--port", bay.path(), "--baud", "38400"])
        .args(["--trace", "a.trace"])
        .timeout(AT_MOST)
        .assert()
        .success();
    let entries = trace::read(&bench.path().join("a.trace")).unwrap();
    assert_eq!(entries[0].event, Event::Opened(Some(38_400)));
    let (mut sent, mut heard) = (Vec::new(), Vec::new());
    for entry in &entries {
        match &entry.event {
            Event::Out(bytes) => sent.extend_from_slice(bytes),
            Event::In(bytes) => heard.extend_from_slice(bytes),
            other => assert!(matches!(other, Event::Opened(_)), "{other:?}"),
        }
    }
    assert!(sent.starts_with(b"ATZ\rATE0\r"));
    assert!(heard.starts_with(b"ATZ\r"), "the echo of the first command");
    // each command ends with a line end and is answered by one prompt
    let count = |bytes: &[u8], what| bytes.iter().filter(|byte| **byte == what).count();
    assert_eq!(count(&sent, b'\r'), count(&heard, b'>'));
}

#[test]
fn an_existing_trace_is_refused_before_anything_is_opened() {
    let bench = Workbench::new();
    let path = bench.file("a.trace", "mine");
    let arguments = ["codes", "--port", "/dev/none", "--trace", "a.trace"];
    let assert = bench.pintle(arguments).timeout(AT_MOST).assert().code(1);
    let line = String::from_utf8(assert.get_output().stderr.clone()).unwrap();
    assert!(line.contains("a.trace: the file exists already"), "{line}");
    assert_eq!(std::fs::read_to_string(path).unwrap(), "mine");
}
