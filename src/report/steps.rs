//! What to do, step by step: checks, treatment, and what follows the work, each with its cautions.

use crate::{
    cause::Cause,
    caution::Caution,
    diagnose::{
        Diagnosis,
        diagnosis::{Finding, Treatment},
    },
};

use super::{
    terminal_page::Page,
    warning_words,
    words::{capital, percent},
};

/// Largest number of checks shown (assumed).
pub(super) const MOST_CHECKS: usize = 3;

impl Page {
    /// The cautions of a step, in one line.
    fn cautions(&self, text: &mut String, cautions: &[Caution]) {
        if let Some(line) = Caution::line(cautions) {
            self.paragraph(text, &line, "     ");
        }
    }

    /// What to check next.
    pub(super) fn checks(&self, text: &mut String, diagnosis: &Diagnosis) {
        if diagnosis.next_checks.is_empty() {
            return;
        }
        self.heading(text, "What to check next");
        let checks = diagnosis.next_checks.iter().take(MOST_CHECKS);
        for (number, next) in (1..).zip(checks) {
            let minutes = next.minutes;
            self.paragraph(
                text,
                &format!("{number}. {} ({minutes:.0} min)", next.how),
                "  ",
            );
            for outcome in &next.outcomes {
                self.paragraph(text, &format!("- {outcome}"), "     ");
            }
            self.cautions(text, &next.cautions);
        }
    }

    /// Whether and how to treat the injectors.
    pub(super) fn treatment(&self, text: &mut String, diagnosis: &Diagnosis) {
        let healthy = |first: &Finding| first.cause == Cause::NoneFound;
        let Some(advice) = diagnosis.injector_advice else {
            return;
        };
        if diagnosis.treatment.is_empty() && diagnosis.causes.first().is_some_and(healthy) {
            return;
        }
        let injectors = percent(diagnosis.injector_probability());
        self.heading(text, "Treatment");
        let advice = format!(
            "{} Probability that the injectors are the cause: {injectors}.",
            warning_words::advice(advice)
        );
        self.paragraph(text, &advice, "  ");
        if diagnosis.treatment.is_empty() {
            return;
        }
        let rows = diagnosis.treatment.iter().map(|action| {
            vec![
                capital(&action.how),
                format!("{:.0}", action.cost),
                format!("{:.0} min", action.minutes),
                percent(action.chance),
                format!("{:.0}", action.expected_cost),
            ]
        });
        let headings = [
            "begin with",
            "costs",
            "takes",
            "fixes the car",
            "expected until fixed",
        ];
        self.table(text, &headings, rows.collect());
        let vague =
            "Chances, times and prices are common practice; prices in the vehicle file come first.";
        self.paragraph(text, vague, "  ");
        for (number, action) in (1..).zip(order(diagnosis)) {
            self.paragraph(text, &format!("{number}. {}", capital(&step(action))), "  ");
            for note in &action.notes {
                self.paragraph(text, &format!("- {note}"), "     ");
            }
            self.cautions(text, &action.cautions);
        }
        self.heading(text, "After the work");
        for (number, step) in (1..).zip(&diagnosis.after_treatment) {
            self.paragraph(text, &format!("{number}. {}", step.how), "  ");
            self.cautions(text, &step.cautions);
        }
    }
}

/// The cautions of the steps shown, each once: first those of the state found, then those of the steps.
pub(super) fn cautions(diagnosis: &Diagnosis) -> Vec<Caution> {
    let heavy = diagnosis.misfires.is_heavy().then_some(Caution::Catalyst);
    let checks = diagnosis.next_checks.iter().take(MOST_CHECKS);
    let checks = checks.flat_map(|check| &check.cautions);
    let actions = order(diagnosis)
        .into_iter()
        .flat_map(|action| &action.cautions);
    let after = diagnosis
        .after_treatment
        .iter()
        .flat_map(|step| &step.cautions);
    let mut all: Vec<Caution> = heavy.into_iter().collect();
    for caution in checks.chain(actions).chain(after) {
        if !all.contains(caution) {
            all.push(*caution);
        }
    }
    all
}

/// The actions in the order of least expected cost, up to where checking comes before more money.
pub(super) fn order(diagnosis: &Diagnosis) -> Vec<&Treatment> {
    let Some(first) = diagnosis.treatment.first() else {
        return Vec::new();
    };
    let named = |name: &String| {
        diagnosis
            .treatment
            .iter()
            .find(|other| other.action == *name)
    };
    let mut order = vec![first];
    for next in first.then.iter().filter_map(named) {
        if order.last().is_some_and(|last| last.stop_if_it_fails) {
            break;
        }
        order.push(next);
    }
    order
}

/// An action, and what its failure would mean.
pub(super) fn step(action: &Treatment) -> String {
    let (how, left) = (&action.how, percent(action.injectors_if_it_fails));
    match action.stop_if_it_fails {
        // new injectors that do not help leave nothing more to do to the injectors, however probable they were
        _ if action.action == "replace" => {
            format!("{how}. If it does not help, check again before you spend more.")
        }
        true => format!(
            "{how}. If it does not help, stop: another cause is then more probable (injectors {left}). Check before \
             you spend more."
        ),
        false => format!(
            "{how}. If it does not help, the injectors are still the cause with {left} probability."
        ),
    }
}
