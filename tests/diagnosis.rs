//! From readings to a finding: real healthy logs stay healthy.

use pintle::{
    cause::Cause,
    diagnose::{Tables, diagnose},
    report::text,
    vehicle::Vehicle,
};

use crate::{
    harness::real_logs,
    real_logs::{LOGS, summary_of},
};

/// Twelve real logs of one healthy car (description beside them). Only on the first log after a
/// refuel, which lies about 6 points lower everywhere, may the fuel lead.
#[test]
fn on_real_healthy_logs_nothing_is_found() {
    let Some(folder) = real_logs() else { return };
    let tables = Tables::standard().unwrap();
    for (name, ..) in LOGS {
        let summary = summary_of(&folder.join(name).with_extension("csv"));
        let diagnosis = diagnose(&[summary], &Vehicle::default(), &tables);
        let told = format!(
            "{name}: {}",
            text::render(&diagnosis, text::Layout::default())
        );
        println!("{told}");
        let first = &diagnosis.causes[0];
        let refuelled = name == "live13" && first.cause == Cause::FuelBlend;
        assert!(first.cause == Cause::NoneFound || refuelled, "{told}");
        assert!(diagnosis.injector_probability() < 0.2, "{told}");
        let sum: f64 = diagnosis.causes.iter().map(|cause| cause.probability).sum();
        assert!((sum - 1.0).abs() < 1e-9);
    }
}
