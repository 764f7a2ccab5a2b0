//! Single cases in a few lines each: the truth, what was read, what was said. For finding out why.

use pintle::{
    bench::Readings, cause::Cause, report::evidence_words::evidence_lines,
    series::label::region::Region,
};

use crate::{case::Case, verdict::Verdict};

/// Prints the cases of one cause, the worst judged first.
pub fn print(
    cause: Cause,
    cases: &[Case],
    verdicts: &[Verdict],
    sheet: impl Fn(usize) -> Option<Readings>,
) {
    let all = 0..cases.len();
    let mut own: Vec<usize> = all
        .filter(|index| verdicts[*index].truth == cause)
        .collect();
    let right = |verdict: &Verdict| verdict.reported[verdict.truth as usize];
    own.sort_by(|a, b| right(&verdicts[*a]).total_cmp(&right(&verdicts[*b])));
    for index in own {
        one(&cases[index], &verdicts[index], right(&verdicts[index]));
        if let Some(sheet) = sheet(index) {
            readings(&sheet);
        }
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
                match trim.region {
                    Region::WarmIdle => "i",
                    Region::RaisedIdle => "r",
                    Region::LightCruise => "c",
                    Region::Loaded => "l",
                },
                100.0 * trim.mean_log,
                100.0 * trim.std_error_log
            );
            if trim.saturated > 0.1 {
                line.push('!');
            }
        }
        if let Some(misfires) = &summary.misfires {
            line += &format!(" rev {:.0}", misfires.revolutions);
            for cylinder in &misfires.cylinders {
                let by = cylinder.count_by_region.into_array();
                line += &format!(
                    " [{}: {by:?} {:?}]",
                    cylinder.cylinder, cylinder.average_of_ten
                );
            }
        }
        let codes: Vec<String> = summary
            .codes
            .iter()
            .map(|seen| seen.code.to_string())
            .collect();
        println!("   {line} {}", codes.join(" "));
    }
    let top = verdict.diagnosis.causes.iter().take(4).map(|finding| {
        let second_cause = finding
            .second_cause
            .map_or(String::new(), |b| format!(" with {}", b.cause));
        format!(
            "{} {:?} {:?} {:.3} {:.0?}{second_cause}",
            finding.cause,
            finding.bank,
            finding.cylinder,
            finding.probability,
            finding.severity.map(|s| s.median)
        )
    });
    println!("    {}", top.collect::<Vec<_>>().join("; "));
    let first = verdict.diagnosis.causes.first();
    let mut causes = verdict.diagnosis.causes.iter();
    let own = causes.find(|finding| finding.cause == verdict.truth);
    let of_first = first.into_iter().flat_map(evidence_lines);
    let against = |what: &str| {
        let evidence = evidence_lines(own?).find(|evidence| evidence.what == what);
        evidence.map(|evidence| evidence.log_odds)
    };
    for evidence in of_first {
        println!(
            "      {:+.1} ({:+.1} for the true one) {}",
            evidence.log_odds,
            against(&evidence.what).unwrap_or(0.0),
            evidence.what
        );
    }
}

/// What was read on the bench.
fn readings(sheet: &Readings) {
    println!(
        "    steps {:?}, coils at {:?}, good {:?}, rail {:?}",
        sheet.steps, sheet.coil_temperature_c, sheet.good_volume_ml, sheet.rail
    );
    for one in &sheet.injectors {
        let number = |value: Option<f64>| value.map_or("-".to_owned(), |v| format!("{v:.1}"));
        let yes = |value: Option<bool>| value.map_or("-", |v| if v { "yes" } else { "NO" });
        println!(
            "      {}: {} ohm, click {}, pulse {}, {} rpm, {} kPa, {} mL, {} drops",
            one.cylinder,
            number(one.ohms),
            yes(one.click),
            yes(one.pulse),
            number(one.rpm_drop),
            number(one.drop_kpa),
            number(one.volume_ml),
            number(one.drops_per_minute)
        );
    }
}
