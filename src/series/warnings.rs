//! Which warnings apply to a capture.

use crate::series::{
    label::Label,
    summary::{Seconds, Summary, TrimSummary},
    warning::Warning,
};

/// Seconds of usable recording below which a warning is given (assumed).
const LITTLE_S: f64 = 120.0;
/// Share of time from which a label is worth a warning, 0 to 1 (assumed).
const MUCH: f64 = 0.2;
/// Share of time with a saturated fuel trim from which a warning is given, 0 to 1 (assumed).
const SATURATED: f64 = 0.05;
/// Labels that are worth a warning where they took much of the time.
const WORTH_A_WARNING: [Label; 3] = [Label::Cold, Label::Stale, Label::Implausible];

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
pub fn warnings(summary: &Summary, inputs: WarningInputs) -> Vec<Warning> {
    let mut all = Vec::new();
    if !inputs.engine_speed_seen {
        all.push(Warning::NoEngineSpeed);
    } else if !inputs.trim_seen {
        all.push(Warning::NoTrims);
    }
    all.extend(summary.facts.not_judged.map(Warning::NotJudged));
    let copied = summary.facts.copied_banks.iter();
    all.extend(copied.map(|bank| Warning::CopiedBank(*bank)));
    all.extend(time(&summary.seconds));
    all.extend(relearning(summary));
    all.extend(summary.trims.iter().filter_map(saturated));
    if inputs.coolant_lacked {
        all.push(Warning::NoCoolant);
    }
    all.extend(counters(summary, inputs));
    all
}

fn time(seconds: &Seconds) -> impl Iterator<Item = Warning> {
    let much = WORTH_A_WARNING.into_iter().filter_map(|label| {
        (seconds.of(label) / seconds.total > MUCH).then_some(Warning::MuchTime {
            label,
            seconds: seconds.of(label),
            of_s: seconds.total,
        })
    });
    let little = (seconds.used < LITTLE_S).then_some(Warning::LittleData(seconds.used));
    much.chain(little)
}

fn relearning(summary: &Summary) -> Option<Warning> {
    let aside_s = summary.seconds.relearn;
    (aside_s > 0.0).then_some(Warning::Relearning {
        minutes_since_clear: summary.facts.minutes_since_clear,
        aside_s,
    })
}

fn saturated(trim: &TrimSummary) -> Option<Warning> {
    (trim.saturated > SATURATED).then_some(Warning::Saturated {
        bank: trim.bank,
        region: trim.region,
        share: trim.saturated,
    })
}

fn counters(summary: &Summary, inputs: WarningInputs) -> Vec<Warning> {
    let Some(misfires) = &summary.misfires else {
        return Vec::new();
    };
    let never_moved = misfires.cylinders.iter().all(|c| c.counter_high == 0.0);
    let all = [
        (never_moved, Warning::CountersNeverMoved),
        (inputs.counters_in_blocks, Warning::CountersInBlocks),
        (inputs.counter_at_end, Warning::CounterAtEnd),
    ];
    let true_ones = all.into_iter().filter(|(applies, _)| *applies);
    true_ones.map(|(_, warning)| warning).collect()
}
