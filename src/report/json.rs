//! The published machine-readable form of a diagnosis.

use serde::Serialize;

use super::{bench, evidence_words::evidence_lines, warning_words};
use crate::{
    cause::Cause,
    diagnose::{
        Diagnosis,
        diagnosis::{CylinderRate, Finding, MisfireSource, Misfires, Severity, Trim},
    },
    series::{gather::misfire_frame::MisfireFrame, label::region::Region, summary::Seconds},
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
    trims: Vec<TrimEntry>,
    misfires: MisfireEntry,
    causes: Vec<CauseEntry>,
    #[serde(skip_serializing_if = "Option::is_none")]
    bench: Option<bench::Document<'a>>,
    next_checks: Vec<CheckEntry<'a>>,
    injector_advice: &'static str,
    treatment: Vec<TreatmentEntry<'a>>,
    after_treatment: Vec<&'a str>,
    warnings: Vec<String>,
    cautions: Vec<&'static str>,
}

#[derive(Debug, Serialize)]
struct TrimEntry {
    bank: u8,
    region: Region,
    mean_pct: f64,
    low_pct: f64,
    high_pct: f64,
    seconds: f64,
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
    severity: Option<SeverityEntry>,
    #[serde(skip_serializing_if = "Option::is_none")]
    beside: Option<BesideEntry>,
    evidence: Vec<EvidenceEntry>,
}

/// A second cause that acts at the same time; its probability is a part of the entry's.
#[derive(Debug, Serialize)]
struct BesideEntry {
    cause: Cause,
    cylinder: Option<u8>,
    probability: f64,
}

#[derive(Debug, Serialize)]
struct SeverityEntry {
    quantity: &'static str,
    low: f64,
    median: f64,
    high: f64,
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

#[derive(Debug, Serialize)]
struct TreatmentEntry<'a> {
    action: &'a str,
    expected_cost: f64,
    chance: f64,
    how: &'a str,
    cost: f64,
    minutes: f64,
    then: &'a [String],
    injectors_if_it_fails: f64,
    stop_if_it_fails: bool,
    notes: &'a [String],
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
        trims: diagnosis.trims.iter().map(TrimEntry::from).collect(),
        misfires: MisfireEntry::from(&diagnosis.misfires),
        causes: diagnosis.causes.iter().map(CauseEntry::from).collect(),
        bench: diagnosis
            .bench
            .as_ref()
            .map(|found| bench::document(found, &diagnosis.flow_checks)),
        next_checks: next_checks(diagnosis),
        injector_advice: diagnosis.injector_advice.map_or("", warning_words::advice),
        treatment: treatment(diagnosis),
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
            bits: rounded(next.bits, 1e3),
            minutes: next.minutes,
            how: &next.how,
            reading: next.outcomes.join("; "),
            cautions: next.cautions.iter().map(|c| c.words()).collect(),
        })
        .collect()
}

fn treatment(diagnosis: &Diagnosis) -> Vec<TreatmentEntry<'_>> {
    let actions = diagnosis.treatment.iter();
    actions
        .map(|action| TreatmentEntry {
            action: &action.action,
            expected_cost: rounded(action.expected_cost, 1e2),
            chance: rounded(action.chance, 1e3),
            how: &action.how,
            cost: rounded(action.cost, 1e2),
            minutes: rounded(action.minutes, 1.0),
            then: &action.then,
            injectors_if_it_fails: rounded(action.injectors_if_it_fails, 1e3),
            stop_if_it_fails: action.stop_if_it_fails,
            notes: &action.notes,
            cautions: action.cautions.iter().map(|c| c.words()).collect(),
        })
        .collect()
}

impl From<&Trim> for TrimEntry {
    fn from(trim: &Trim) -> Self {
        Self {
            bank: trim.bank,
            region: trim.region,
            mean_pct: rounded(trim.mean_pct, 1e2),
            low_pct: rounded(trim.low_pct, 1e2),
            high_pct: rounded(trim.high_pct, 1e2),
            seconds: trim.seconds,
        }
    }
}

impl From<&Misfires> for MisfireEntry {
    fn from(misfires: &Misfires) -> Self {
        Self {
            source: match misfires.source {
                MisfireSource::Counters => "service06",
                MisfireSource::Codes => "codes",
                MisfireSource::Nothing => "none",
            },
            revolutions: misfires.revolutions.map(|number| rounded(number, 1.0)),
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
            per_1000_rev: counted.map(|c| rounded(c.per_1000_rev, 1e4)),
            low: counted.map(|c| rounded(c.low, 1e4)),
            high: counted.map(|c| rounded(c.high, 1e4)),
        }
    }
}

impl From<&Finding> for CauseEntry {
    fn from(finding: &Finding) -> Self {
        let evidence = evidence_lines(finding).map(|piece| EvidenceEntry {
            what: piece.what,
            log_odds: rounded(piece.log_odds, 1e2),
        });
        Self {
            cause: finding.cause,
            cylinder: finding.cylinder,
            bank: finding.bank,
            // not rounded: the probabilities sum to 1
            probability: finding.probability,
            severity: finding.severity.map(SeverityEntry::from),
            beside: finding.beside.map(|beside| BesideEntry {
                cause: beside.cause,
                cylinder: beside.cylinder,
                probability: beside.probability,
            }),
            evidence: evidence.collect(),
        }
    }
}

impl From<Severity> for SeverityEntry {
    fn from(severity: Severity) -> Self {
        Self {
            quantity: severity.quantity.id(),
            low: rounded(severity.low, 1e2),
            median: rounded(severity.median, 1e2),
            high: rounded(severity.high, 1e2),
        }
    }
}

fn rounded(number: f64, per_unit: f64) -> f64 {
    (number * per_unit).round() / per_unit
}
