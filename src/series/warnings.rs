//! What the person should know about the data before relying on the result, in plain sentences.

use crate::series::{
    label::Label,
    summary::{NotJudged, Seconds, Summary, TrimSummary},
};

/// Seconds of usable recording below which a warning is given (assumed).
const LITTLE_S: f64 = 120.0;
/// Share of time from which a label is worth a warning, 0 to 1 (assumed).
const MUCH: f64 = 0.2;
/// Share of time with a saturated fuel trim from which a warning is given, 0 to 1 (assumed).
const SATURATED: f64 = 0.05;

/// What only the builder knows.
#[derive(Debug, Clone, Copy, Default)]
pub struct WarningInputs {
    /// Engine speed was read.
    pub engine_speed_seen: bool,
    /// A short trim was read.
    pub trim_seen: bool,
    /// Running time replaced a coolant temperature that was not credible.
    pub coolant_lacked: bool,
    /// Misfire counters move in blocks.
    pub counters_in_blocks: bool,
    /// A misfire counter is at its largest value.
    pub counter_at_end: bool,
}

/// Every warning that applies to a summary that is complete but for them.
pub fn warnings(summary: &Summary, circumstances: WarningInputs) -> Vec<String> {
    let mut all = Vec::new();
    all.extend(missing(circumstances));
    all.extend(summary.facts.not_judged.map(not_judged));
    all.extend(summary.facts.copied_banks.iter().map(|bank| {
        format!("The fuel trims of bank {bank} are exact copies of bank 1's and are left out.")
    }));
    all.extend(time(&summary.seconds));
    all.extend(relearn(summary));
    all.extend(summary.trims.iter().filter_map(saturated));
    if circumstances.coolant_lacked {
        all.push(
            "No plausible coolant temperature: the engine counts as warm by its running time."
                .to_owned(),
        );
    }
    all.extend(counters(summary, circumstances));
    all
}

fn missing(circumstances: WarningInputs) -> Option<String> {
    let text = if !circumstances.engine_speed_seen {
        "No engine speed (PID 0C) in this capture: nothing in it can be judged."
    } else if !circumstances.trim_seen {
        "No fuel trims (PIDs 06 to 09) in this capture: the mixture cannot be judged."
    } else {
        return None;
    };
    Some(text.to_owned())
}

fn not_judged(reason: NotJudged) -> String {
    match reason {
        NotJudged::Diesel => {
            "The car reports that it runs on diesel: its fuel trims are not judged."
        }
        NotJudged::TrimsAlike => {
            "All fuel trims are exactly the same: they are placeholders and are not judged."
        }
    }
    .to_owned()
}

fn time(seconds: &Seconds) -> Vec<String> {
    let mut all = Vec::new();
    let share = |label| seconds.of(label) / seconds.total;
    let mut tell = |label: Label, what: &str| {
        if share(label) > MUCH {
            let (part, total) = (seconds.of(label), seconds.total);
            all.push(format!("{what} for {part:.0} of {total:.0} s."));
        }
    };
    tell(Label::Cold, "The engine was not warm");
    tell(
        Label::Stale,
        "Readings that are needed were missing or too old",
    );
    tell(Label::Implausible, "Readings were implausible");
    if seconds.used < LITTLE_S {
        let used = seconds.used;
        all.push(format!(
            "Only {used:.0} s of usable data: too little to say much."
        ));
    }
    all
}

fn relearn(summary: &Summary) -> Option<String> {
    let aside = summary.seconds.relearn;
    let cleared = match summary.facts.minutes_since_clear {
        Some(minutes) => format!("Codes were cleared {minutes:.0} engine minutes before"),
        None => "Codes were cleared shortly before".to_owned(),
    };
    (aside > 0.0).then(|| {
        format!(
            "{cleared} and long term fuel trim was still relearning: {aside:.0} s are set aside and used only where there \
             is nothing better."
        )
    })
}

fn saturated(trim: &TrimSummary) -> Option<String> {
    (trim.saturated > SATURATED).then(|| {
        let share = trim.saturated * 100.0;
        let TrimSummary { bank, region, .. } = trim;
        let region = region.words();
        format!(
            "Bank {bank}, {region}: short term fuel trim was at its limit for {share:.0} % of the time; the real error \
             may be larger."
        )
    })
}

fn counters(summary: &Summary, circumstances: WarningInputs) -> Vec<String> {
    let mut all = Vec::new();
    let Some(misfires) = &summary.misfires else {
        return all;
    };
    if misfires.cylinders.iter().all(|c| c.counter_high == 0.0) {
        all.push(
            "The misfire counters never moved: that is weak evidence for no misfires.".to_owned(),
        );
    }
    if circumstances.counters_in_blocks {
        all.push(
            "The misfire counters are updated only once every so many revolutions.".to_owned(),
        );
    }
    if circumstances.counter_at_end {
        all.push("A misfire counter is at its maximum: the true count is higher.".to_owned());
    }
    all
}
