//! Single cases in a few lines each: the truth, what was read, what was said. For finding out why.

use pintle::cause::Cause;

use crate::{case::Case, verdict::Verdict};

/// Prints the cases of one cause, the worst judged first.
pub fn print(cause: Cause, cases: &[Case], verdicts: &[Verdict]) {
    let pairs = cases.iter().zip(verdicts);
    let mut own: Vec<(&Case, &Verdict)> = pairs.filter(|(_, v)| v.truth == cause).collect();
    let right = |verdict: &Verdict| verdict.told[verdict.truth as usize];
    own.sort_by(|a, b| right(a.1).total_cmp(&right(b.1)));
    for (case, verdict) in own {
        one(case, verdict, right(verdict));
    }
}

fn one(case: &Case, verdict: &Verdict, right: f64) {
    let size = case
        .severity
        .map_or_else(String::new, |s| format!("{s:.1}"));
    let visible = if verdict.visible { "visible" } else { "hidden" };
    println!(
        "\n{} {size} bank {:?} cylinder {:?} of {} {visible}, told {right:.3}; {:?} {:?}",
        verdict.truth,
        case.bank,
        case.cylinder,
        case.cylinders,
        case.vehicle.air_metering,
        case.vehicle.banks,
    );
    for summary in &case.summaries {
        let mut line = String::new();
        for trim in &summary.trims {
            line += &format!(
                " {}{}:{:+.1}±{:.1}",
                trim.bank,
                ["i", "r", "c", "l"][trim.region.index()],
                100.0 * trim.mean_log,
                100.0 * trim.std_error_log
            );
            if trim.at_stop > 0.1 {
                line.push('!');
            }
        }
        if let Some(misfires) = &summary.misfires {
            line += &format!(" rev {:.0}", misfires.revolutions);
            for cylinder in &misfires.cylinders {
                let by = cylinder.count_by_region;
                line += &format!(
                    " [{}: {by:?} {:?}]",
                    cylinder.cylinder, cylinder.average_of_ten
                );
            }
        }
        let codes: Vec<&str> = summary
            .codes
            .iter()
            .map(|seen| seen.code.as_str())
            .collect();
        println!("   {line} {}", codes.join(" "));
    }
    let top = verdict.diagnosis.causes.iter().take(4).map(|finding| {
        let beside = finding
            .beside
            .map_or(String::new(), |b| format!(" with {}", b.cause));
        format!(
            "{} {:?} {:?} {:.3} {:.0?}{beside}",
            finding.cause,
            finding.bank,
            finding.cylinder,
            finding.probability,
            finding.severity.map(|s| s.median)
        )
    });
    println!("    {}", top.collect::<Vec<_>>().join("; "));
    let first = verdict.diagnosis.causes.first();
    for evidence in first.into_iter().flat_map(|finding| &finding.evidence) {
        println!("      {:+.1} {}", evidence.log_odds, evidence.what);
    }
}
