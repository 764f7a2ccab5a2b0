//! Warnings, advice and the outcome of a flow check in sentences.

use crate::{
    diagnose::diagnosis::{FlowOutcome, InjectorAdvice, Warning},
    series::{
        label::Label,
        warning::{NotJudged, Warning as DataWarning},
    },
};

/// A warning as sentences.
pub fn words(warning: &Warning) -> String {
    match warning {
        Warning::Captures(words) => words.clone(),
        Warning::MostlyPriors => {
            "Too little usable data: the probabilities are mostly how common each cause is, not what this car shows."
                .to_owned()
        }
        Warning::Data(warning) => data(warning),
        Warning::UnknownPrice { name, known } => format!(
            "The vehicle file has a price {name:?} that nothing uses; it may name {}.",
            known.join(", ")
        ),
        Warning::InjectionNotStated => {
            "Treatment is planned for port injection. A direct-injection rail is far more dangerous to open: write \
             `injection` into the vehicle file."
                .to_owned()
        }
    }
}

fn data(warning: &DataWarning) -> String {
    let fixed = match warning {
        DataWarning::CopiedBank(bank) => {
            return format!(
                "The fuel trims of bank {bank} are exact copies of bank 1's and are left out."
            );
        }
        DataWarning::MuchTime {
            label,
            seconds,
            of_s,
        } => {
            let what = match label {
                Label::Cold => "The engine was not warm",
                Label::Stale => "Readings that are needed were missing or too old",
                _ => "Readings were implausible",
            };
            return format!("{what} for {seconds:.0} of {of_s:.0} s.");
        }
        DataWarning::LittleData(used_s) => {
            return format!("Only {used_s:.0} s of usable data: too little to say much.");
        }
        DataWarning::Relearning {
            minutes_since_clear,
            aside_s,
        } => return relearning(*minutes_since_clear, *aside_s),
        DataWarning::Saturated {
            bank,
            region,
            share,
        } => {
            return format!(
                "Bank {bank}, {}: short term fuel trim was at its limit for {:.0} % of the time; the real error may be \
                 larger.",
                region.words(),
                100.0 * share
            );
        }
        DataWarning::NoEngineSpeed => {
            "No engine speed (PID 0C) in this capture: nothing in it can be judged."
        }
        DataWarning::NoTrims => {
            "No fuel trims (PIDs 06 to 09) in this capture: the mixture cannot be judged."
        }
        DataWarning::NotJudged(NotJudged::Diesel) => {
            "The car reports that it runs on diesel: its fuel trims are not judged."
        }
        DataWarning::NotJudged(NotJudged::TrimsAlike) => {
            "All fuel trims are exactly the same: they are placeholders and are not judged."
        }
        DataWarning::NoCoolant => {
            "No plausible coolant temperature: the engine counts as warm by its running time."
        }
        DataWarning::CountersNeverMoved => {
            "The misfire counters never moved: that is weak evidence for no misfires."
        }
        DataWarning::CountersInBlocks => {
            "The misfire counters are updated only once every so many revolutions."
        }
        DataWarning::CounterAtEnd => {
            "A misfire counter is at its maximum: the true count is higher."
        }
    };
    fixed.to_owned()
}

fn relearning(minutes_since_clear: Option<f64>, aside_s: f64) -> String {
    let cleared = match minutes_since_clear {
        Some(minutes) => format!("Codes were cleared {minutes:.0} engine minutes before"),
        None => "Codes were cleared shortly before".to_owned(),
    };
    format!(
        "{cleared} and long term fuel trim was still relearning: {aside_s:.0} s are set aside and used only where there is \
         nothing better."
    )
}

/// Whether to treat the injectors, in one or two sentences.
pub const fn advice(advice: InjectorAdvice) -> &'static str {
    match advice {
        InjectorAdvice::ReplaceDead => {
            "The bench says electrically dead: do not clean. Measure once more at the injector's own pins, then replace it."
        }
        InjectorAdvice::NothingToTreat => "Nothing to treat.",
        InjectorAdvice::NotTheInjectors => {
            "Not the injectors: spend nothing on cleaning or replacing them."
        }
        InjectorAdvice::ProbablyDead => {
            "Most probably electrically dead: do not clean. Check winding, click and pulse, and replace it only if the \
             pulse arrives."
        }
        InjectorAdvice::InDoubt => {
            "The injectors are in doubt: do the next checks before you spend money on them."
        }
        InjectorAdvice::Treat => {
            "The injectors are worth treating: begin with the first line, it costs least in the end."
        }
    }
}

/// What a flow check says, in one sentence without its capital.
pub fn flow_outcome(outcome: &FlowOutcome) -> String {
    let fixed = match outcome {
        FlowOutcome::RegionApart { region, points } => {
            let than = if *points > 0.0 { "higher" } else { "lower" };
            return format!(
                "the flows need the same trim everywhere, but fuel trim is {:.0} points {than} {} than elsewhere: something \
                 other than the injectors acts there, unless their misfires do it",
                points.abs(),
                region.at()
            );
        }
        FlowOutcome::NotAllMeasured => "not every injector of the bank was measured",
        FlowOutcome::NoTrim => "no usable fuel trim was recorded",
        FlowOutcome::TooWide => "the interval is too wide to tell: record more trips",
        FlowOutcome::Explains => "the measured flows explain the recorded fuel trim",
        FlowOutcome::BothNormal => "the flows need almost no trim, and the fuel trim is normal",
        FlowOutcome::ExplainsPart => {
            "the flows explain part of it; something else leans the mixture too"
        }
        FlowOutcome::NotWhatFlowsNeed => {
            "the fuel trim is not what these flows need: measure again, or the car has changed since"
        }
        FlowOutcome::NotTheInjectors {
            unless_all_alike: true,
        } => {
            "the injectors do not explain the fuel trim, unless all injectors are down by the same amount, which \
             good_volume_ml would show"
        }
        FlowOutcome::NotTheInjectors {
            unless_all_alike: false,
        } => "the injectors do not explain the fuel trim",
    };
    fixed.to_owned()
}
