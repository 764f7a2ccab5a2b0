//! The published machine-readable form of a diagnosis.

use serde::Serialize;

use super::{bench, evidence_words::evidence_lines, warning_words};
use crate::{
    cause::Cause,
    diagnose::{
        Diagnosis,
        diagnosis::{
            CylinderRate, Finding, MisfireSource, Misfires, SecondCause, Severity, Treatment, Trim,
        },
    },
    rounded::to_decimals,
    series::{gather::misfire_frame::MisfireFrame, summary::Seconds},
    vehicle::Vehicle,
};

/// Name and version of the format.
const SCHEMA: &str = "pintle.diagnosis/1";

/// A diagnosis as one document.
#[derive(Debug, Serialize)]
pub struct Document<'a> {
    schema: &'static str,
    captures: &'a [String],
    vehicle: &'a Vehicle,
    seconds: Seconds,
    trims: &'a [Trim],
    misfires: MisfireEntry,
    causes: Vec<CauseEntry>,
    #[serde(skip_serializing_if = "Option::is_none")]
    bench: Option<bench::Document<'a>>,
    next_checks: Vec<CheckEntry<'a>>,
    injector_advice: &'static str,
    treatment: &'a [Treatment],
    after_treatment: Vec<&'a str>,
    warnings: Vec<String>,
    cautions: Vec<&'static str>,
}

#[derive(Debug, Serialize)]
struct MisfireEntry {
    source: &'static str,
    revolutions: Option<f64>,
    cylinders: Vec<CylinderEntry>,
    freeze_frame: Option<MisfireFrame>,
}

#[derive(Debug, Serialize)]
struct CylinderEntry {
    cylinder: u8,
    count: Option<f64>,
    per_1000_rev: Option<f64>,
    low: Option<f64>,
    high: Option<f64>,
}

#[derive(Debug, Serialize)]
struct CauseEntry {
    cause: Cause,
    cylinder: Option<u8>,
    bank: Option<u8>,
    probability: f64,
    severity: Option<Severity>,
    #[serde(rename = "beside", skip_serializing_if = "Option::is_none")]
    second_cause: Option<SecondCause>,
    evidence: Vec<EvidenceEntry>,
}

#[derive(Debug, Serialize)]
struct EvidenceEntry {
    what: String,
    log_odds: f64,
}

#[derive(Debug, Serialize)]
struct CheckEntry<'a> {
    check: &'a str,
    bits: f64,
    minutes: f64,
    how: &'a str,
    reading: String,
    cautions: Vec<&'static str>,
}

/// The document of a diagnosis of these captures, listed by name.
pub fn document<'a>(
    diagnosis: &'a Diagnosis,
    captures: &'a [String],
    vehicle: &'a Vehicle,
) -> Document<'a> {
    Document {
        schema: SCHEMA,
        captures,
        vehicle,
        seconds: diagnosis.seconds,
        trims: &diagnosis.trims,
        misfires: MisfireEntry::from(&diagnosis.misfires),
        causes: diagnosis.causes.iter().map(CauseEntry::from).collect(),
        bench: diagnosis
            .bench
            .as_ref()
            .map(|found| bench::document(found, &diagnosis.flow_checks)),
        next_checks: next_checks(diagnosis),
        injector_advice: diagnosis.injector_advice.map_or("", warning_words::advice),
        treatment: &diagnosis.treatment,
        after_treatment: diagnosis
            .after_treatment
            .iter()
            .map(|step| step.how.as_str())
            .collect(),
        warnings: diagnosis
            .warnings
            .iter()
            .map(warning_words::words)
            .collect(),
        cautions: diagnosis.cautions.iter().map(|c| c.words()).collect(),
    }
}

fn next_checks(diagnosis: &Diagnosis) -> Vec<CheckEntry<'_>> {
    let checks = diagnosis.next_checks.iter();
    checks
        .map(|next| CheckEntry {
            check: &next.check,
            bits: to_decimals(next.bits, 3),
            minutes: next.minutes,
            how: &next.how,
            reading: next.outcomes.join("; "),
            cautions: next.cautions.iter().map(|c| c.words()).collect(),
        })
        .collect()
}

impl From<&Misfires> for MisfireEntry {
    fn from(misfires: &Misfires) -> Self {
        Self {
            source: match misfires.source {
                MisfireSource::Counters => "service06",
                MisfireSource::Codes => "codes",
                MisfireSource::Nothing => "none",
            },
            revolutions: misfires.revolutions.map(|number| to_decimals(number, 0)),
            cylinders: misfires.cylinders.iter().map(CylinderEntry::from).collect(),
            freeze_frame: misfires.freeze_frame.clone(),
        }
    }
}

impl From<&CylinderRate> for CylinderEntry {
    fn from(rate: &CylinderRate) -> Self {
        let counted = rate.counted;
        Self {
            cylinder: rate.cylinder,
            count: counted.map(|c| c.count),
            per_1000_rev: counted.map(|c| to_decimals(c.per_1000_rev, 4)),
            low: counted.map(|c| to_decimals(c.low, 4)),
            high: counted.map(|c| to_decimals(c.high, 4)),
        }
    }
}

impl From<&Finding> for CauseEntry {
    fn from(finding: &Finding) -> Self {
        let evidence = evidence_lines(finding).map(|piece| EvidenceEntry {
            what: piece.what,
            log_odds: to_decimals(piece.log_odds, 2),
        });
        Self {
            cause: finding.cause,
            cylinder: finding.cylinder,
            bank: finding.bank,
            // not rounded: the probabilities sum to 1
            probability: finding.probability,
            severity: finding.severity,
            second_cause: finding.second_cause,
            evidence: evidence.collect(),
        }
    }
}
