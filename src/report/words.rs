//! A finding in words: the cause at its place, its size, its odds.

use crate::{
    cause::Cause,
    diagnose::diagnosis::{Beside, Finding, Severity},
    quantity::minus,
};

/// The cause at its place, as it stands in a sentence; the bank is told only on an engine with
/// several.
pub fn phrase(finding: &Finding, banks: usize) -> String {
    if let Some(cylinder) = finding.cylinder {
        return at_cylinder(finding.cause, cylinder);
    }
    match finding.bank.filter(|_| banks > 1) {
        Some(bank) => at_bank(finding.cause, bank),
        None => finding.cause.words().to_owned(),
    }
}

/// The second cause at its place.
pub fn also(beside: &Beside) -> String {
    match beside.cylinder {
        Some(cylinder) => at_cylinder(beside.cause, cylinder),
        None => beside.cause.words().to_owned(),
    }
}

fn at_cylinder(cause: Cause, cylinder: u8) -> String {
    match cause {
        Cause::InjectorRestricted => format!("injector of cylinder {cylinder} restricted"),
        Cause::InjectorDead => format!("injector of cylinder {cylinder} dead"),
        Cause::InjectorLeaking => format!("injector of cylinder {cylinder} dripping"),
        Cause::IgnitionWeak => format!("weak ignition on cylinder {cylinder}"),
        Cause::CompressionLow => format!("low compression on cylinder {cylinder}"),
        other => format!("{}, cylinder {cylinder}", other.words()),
    }
}

fn at_bank(cause: Cause, bank: u8) -> String {
    match cause {
        Cause::IntakeLeakOneBank => format!("air leak at the runners of bank {bank}"),
        Cause::ExhaustLeak => format!("exhaust leak ahead of the oxygen sensor of bank {bank}"),
        Cause::ExhaustBlockedOneBank => format!("exhaust of bank {bank} blocked"),
        other => format!("{} on bank {bank}", other.words()),
    }
}

/// A size with its interval, as in `flow down by 24 % (18 to 31)`.
pub fn size(severity: &Severity) -> String {
    let (what, unit) = match severity.quantity {
        "flow_loss_pct" => ("flow down by", "%"),
        "leak_pct_of_idle_air" => ("leak against the air at idle", "%"),
        "drip_pct_of_idle_fuel" => ("drip against one cylinder's fuel at warm idle", "%"),
        "reading_error_pct" => ("reading off by", "%"),
        "pressure_error_pct" => ("pressure off by", "%"),
        "misfire_pct" => ("firings that fail", "%"),
        "compression_loss_pct" => ("compression down by", "%"),
        "false_lean_pct_at_idle" => ("false lean at idle", "%"),
        "fuel_pct_of_idle_fuel" => ("vapour or air against the fuel or air at idle", "%"),
        "ethanol_change_points" => ("ethanol changed by", "points"),
        other => (other, ""),
    };
    let Severity {
        low, median, high, ..
    } = severity;
    let digits = if high.abs() < 10.0 { 1 } else { 0 };
    let numbers = format!("{median:.digits$} {unit} ({low:.digits$} to {high:.digits$})");
    format!("{what} {}", minus(&numbers))
}

/// A probability in percent, without claiming certainty.
pub fn percent(probability: f64) -> String {
    match probability {
        p if p > 0.99 => "over 99 %".to_owned(),
        p if p < 0.01 => "under 1 %".to_owned(),
        p => format!("{:.0} %", 100.0 * p),
    }
}

/// What a piece of evidence makes of the odds.
pub fn times(log_odds: f64) -> String {
    let factor = log_odds.abs().exp();
    let side = if log_odds > 0.0 {
        "likelier"
    } else {
        "less likely"
    };
    match factor {
        huge if huge >= 1000.0 => format!("over 1000 times {side}"),
        large if large >= 10.0 => format!("{large:.0} times {side}"),
        _ => format!("{factor:.1} times {side}"),
    }
}
