//! A finding in words: the cause with its place, its size, its odds.

use pintle_protocol::dtc::TroubleCode;

use crate::{
    cause::{Cause, SeverityQuantity},
    diagnose::diagnosis::{Finding, SecondCause, Severity},
    quantity::minus,
};

/// The cause with its place, as part of a sentence; the bank is named only on an engine with several.
pub fn phrase(finding: &Finding, banks: usize) -> String {
    if let Some(cylinder) = finding.cylinder {
        return at_cylinder(finding.cause, cylinder);
    }
    match finding.bank.filter(|_| banks > 1) {
        Some(bank) => at_bank(finding.cause, bank),
        None => finding.cause.words().to_owned(),
    }
}

/// The second cause with its place.
pub fn also(second_cause: &SecondCause) -> String {
    match second_cause.cylinder {
        Some(cylinder) => at_cylinder(second_cause.cause, cylinder),
        None => second_cause.cause.words().to_owned(),
    }
}

fn at_cylinder(cause: Cause, cylinder: u8) -> String {
    match cause {
        Cause::InjectorRestricted => format!("injector of cylinder {cylinder} restricted"),
        Cause::InjectorDead => format!("injector of cylinder {cylinder} dead"),
        Cause::InjectorLeaking => format!("injector of cylinder {cylinder} leaking"),
        Cause::IgnitionWeak => format!("weak ignition on cylinder {cylinder}"),
        Cause::CompressionLow => format!("low compression on cylinder {cylinder}"),
        other => format!("{}, cylinder {cylinder}", other.words()),
    }
}

fn at_bank(cause: Cause, bank: u8) -> String {
    match cause {
        Cause::IntakeLeakOneBank => format!("intake air leak at bank {bank}"),
        Cause::ExhaustLeak => format!("exhaust leak ahead of the oxygen sensor of bank {bank}"),
        Cause::ExhaustBlockedOneBank => format!("exhaust of bank {bank} restricted"),
        other => format!("{} on bank {bank}", other.words()),
    }
}

/// A size with its interval, as in `flow down by 24 % (18 to 31)`.
pub fn size(severity: &Severity) -> String {
    let (what, unit) = match severity.quantity {
        SeverityQuantity::FlowLossPct => ("flow down by", "%"),
        SeverityQuantity::LeakPctOfIdleAir => ("leak, as a share of the air at idle,", "%"),
        SeverityQuantity::DripPctOfIdleFuel => {
            ("leak, as a share of one cylinder's fuel at warm idle,", "%")
        }
        SeverityQuantity::ReadingErrorPct => ("reads wrong by", "%"),
        SeverityQuantity::PressureErrorPct => ("pressure wrong by", "%"),
        SeverityQuantity::MisfirePct => ("failed firings", "%"),
        SeverityQuantity::CompressionLossPct => ("compression down by", "%"),
        SeverityQuantity::FalseLeanPctAtIdle => ("reads falsely lean at idle by", "%"),
        SeverityQuantity::FuelPctOfIdleFuel => ("vapour or air, as a share of that at idle,", "%"),
        SeverityQuantity::EthanolChangePoints => ("ethanol changed by", "points"),
    };
    let Severity {
        low, median, high, ..
    } = severity;
    let digits = if high.abs() < 10.0 { 1 } else { 0 };
    let numbers = format!("{median:.digits$} {unit} ({low:.digits$} to {high:.digits$})");
    format!("{what} {}", minus(&numbers))
}

/// Trouble codes, one after the other.
pub fn codes(codes: &[TroubleCode]) -> String {
    let texts: Vec<String> = codes.iter().map(TroubleCode::to_string).collect();
    texts.join(", ")
}

/// Misfires per 1000 revolutions, formatted alike everywhere.
pub fn rate(per_1000_rev: f64) -> String {
    match per_1000_rev {
        0.0 => "0".to_owned(),
        small if small < 0.995 => format!("{small:.2}"),
        large => format!("{large:.1}"),
    }
}

/// A sentence with a capital at the start.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// A sentence in lower case for use after a colon, unless it begins with an abbreviation.
pub fn inside(text: &str) -> String {
    let mut letters = text.chars();
    match (letters.next(), text.chars().nth(1)) {
        (Some(first), Some(second)) if second.is_lowercase() || second == ' ' => {
            first.to_lowercase().chain(letters).collect()
        }
        _ => text.to_owned(),
    }
}

/// A probability in percent, without claiming certainty.
pub fn percent(probability: f64) -> String {
    match probability {
        p if p > 0.99 => "over 99 %".to_owned(),
        p if p < 0.01 => "under 1 %".to_owned(),
        p => format!("{:.0} %", 100.0 * p),
    }
}

/// Likelihood ratio with which a piece of evidence supports a cause against the others, in a technician's words.
pub fn ratio(log_odds: f64) -> String {
    let side = if log_odds > 0.0 {
        "supports this"
    } else {
        "speaks against it"
    };
    match log_odds.abs().exp() {
        huge if huge >= 1000.0 => format!("{side} over 1000 : 1"),
        large if large >= 10.0 => format!("{side} {large:.0} : 1"),
        small => format!("{side} {small:.1} : 1"),
    }
}

/// Likelihood ratio from which evidence is strong: 20 to 1 (Kass and Raftery, *Journal of the American Statistical
/// Association* 90 (1995) 773–795).
const STRONG: f64 = 20.0;
/// Likelihood ratio from which evidence is clear: 3 to 1 (Kass and Raftery, *Journal of the American Statistical
/// Association* 90 (1995) 773–795).
const PLAIN: f64 = 3.0;

/// Strength of evidence in words without numbers, for a customer.
pub fn strength(log_odds: f64) -> &'static str {
    match (log_odds > 0.0, log_odds.abs().exp()) {
        (true, STRONG..) => "strongly supports this",
        (true, PLAIN..) => "supports this",
        (true, _) => "slightly supports this",
        (false, STRONG..) => "strongly speaks against it",
        (false, PLAIN..) => "speaks against it",
        (false, _) => "slightly speaks against it",
    }
}

/// A whole number with narrow spaces between groups of three digits.
pub fn thousands(number: f64) -> String {
    let digits = format!("{number:.0}");
    let mut text = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index) % 3 == 0 {
            text.push(' ');
        }
        text.push(digit);
    }
    text
}
