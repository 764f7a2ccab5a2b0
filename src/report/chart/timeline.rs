//! Chart of the total fuel trim during a trip, with seconds that do not count shaded.

use maud::{Markup, html};

use super::{
    Chart,
    axis::{Scale, place},
    figure::{Figure, WIDTH},
};
use crate::{
    bank::{Bank, ByBank},
    quantity::signed,
    series::{
        label::Label,
        timeline::course::{Course, Second},
    },
};

/// Left end of the time axis, drawing units; numbers are to the left of it.
const LEFT: f64 = 40.0;
/// Right end of the time axis, drawing units.
const RIGHT: f64 = WIDTH - 8.0;
/// Top of the drawing area, drawing units.
const TOP: f64 = 8.0;
/// Bottom of the drawing area, drawing units.
const BOTTOM: f64 = 168.0;
/// Height of the time axis below the drawing area, drawing units.
const FOOT: f64 = 40.0;
/// Number of steps along the time axis: finer ones could not be seen.
const STEPS: u64 = 200;
/// Share of the fuel trims at either end that is drawn at the edge, 0 to 1 (assumed): single seconds would flatten the
/// rest.
const CUT: f64 = 0.01;

/// Seconds below which a reason for leaving seconds out is not named (assumed).
const WORTH_NAMING_S: usize = 3;

/// One step of the time axis.
#[derive(Debug, Clone, Default)]
struct TimeStep {
    counted: u32,
    left_out: u32,
    /// Sum of fuel trims that count, percent, and their number, by bank.
    sums: ByBank<(f64, u32)>,
}

/// Fuel trims of a trip without the furthest ones, percent, from which several charts find a common scale.
pub fn usual_pct(course: &Course) -> Vec<f64> {
    split(course).map_or_else(Vec::new, |split| usual(&split.steps))
}

/// The chart of one trip, on a scale that also holds the values `in_common`; `None` where no fuel trim counted.
pub fn chart(id: &str, title: &str, course: &Course, in_common: &[f64]) -> Chart {
    let Split {
        steps,
        step_s,
        length_s,
    } = split(course)?;
    let banks: Vec<Bank> = Bank::ALL
        .into_iter()
        .filter(|bank| steps.iter().any(|step| step.mean(*bank).is_some()))
        .collect();
    if banks.is_empty() {
        return None;
    }
    let minutes = Scale::over([0.0, length_s as f64 / 60.0], LEFT, RIGHT);
    let values = usual(&steps).into_iter().chain(in_common.iter().copied());
    let percent = Scale::over(values.chain([0.0]), BOTTOM, TOP);
    let minute_at = |step: usize| step as f64 * step_s as f64 / 60.0;
    let drawing = html! {
        @for (from, to) in shaded(&steps) {
            @let (x, end) = (minutes.at(minute_at(from)), minutes.at(minute_at(to)));
            rect.left-out x=(place(x)) y=(place(TOP)) width=(place(end - x)) height=(place(BOTTOM - TOP)) {}
        }
        (axes(&minutes, &percent))
        @for bank in &banks {
            path class={ "course bank-" (bank.number()) } d=(line(&steps, *bank, |step| {
                minutes.at(minute_at(step) + step_s as f64 / 120.0)
            }, &percent)) {}
        }
    };
    let figure = Figure {
        id,
        title,
        alternative: &alternative(course, &steps, &banks),
        height: BOTTOM + FOOT,
        drawing,
        legend: legend(&banks),
        note: &left_out_words(course),
    };
    Some(figure.markup())
}

/// A trip cut into the steps of its axis.
struct Split {
    steps: Vec<TimeStep>,
    step_s: u64,
    length_s: u64,
}

fn split(course: &Course) -> Option<Split> {
    let first = course.seconds.first()?.second;
    let length_s = course.seconds.last()?.second.saturating_sub(first) + 1;
    let step_s = length_s.div_ceil(STEPS).max(1);
    let mut steps = vec![TimeStep::default(); length_s.div_ceil(step_s) as usize];
    for second in &course.seconds {
        let index = second.second.saturating_sub(first) / step_s;
        if let Some(step) = steps.get_mut(index as usize) {
            step.add(second);
        }
    }
    Some(Split {
        steps,
        step_s,
        length_s,
    })
}

impl TimeStep {
    fn add(&mut self, second: &Second) {
        if second.label != Label::Used {
            self.left_out += 1;
            return;
        }
        self.counted += 1;
        for (bank, (sum, number)) in &mut self.sums {
            if let Some(log) = second.trim_log[bank] {
                *sum += 100.0 * log.exp_m1();
                *number += 1;
            }
        }
    }

    /// Mean fuel trim of a bank, percent; `None` where none counted.
    fn mean(&self, bank: Bank) -> Option<f64> {
        let (sum, number) = self.sums[bank];
        (number > 0).then(|| sum / f64::from(number))
    }

    /// Whether most of the step does not count, or nothing is known.
    fn is_left_out(&self) -> bool {
        self.left_out >= self.counted
    }
}

/// Fuel trims of the steps without the furthest ones, percent.
fn usual(steps: &[TimeStep]) -> Vec<f64> {
    let mut all: Vec<f64> = steps
        .iter()
        .flat_map(|step| Bank::ALL.into_iter().filter_map(|bank| step.mean(bank)))
        .collect();
    all.sort_unstable_by(f64::total_cmp);
    let cut = (CUT * all.len() as f64) as usize;
    let kept = all.len() - 2 * cut;
    all.into_iter().skip(cut).take(kept).collect()
}

/// Ranges of steps that do not count, each from its first step to the one after its last.
fn shaded(steps: &[TimeStep]) -> Vec<(usize, usize)> {
    let mut stretches: Vec<(usize, usize)> = Vec::new();
    for (index, step) in steps.iter().enumerate() {
        match stretches.last_mut() {
            _ if !step.is_left_out() => {}
            Some((_, end)) if *end == index => *end = index + 1,
            _ => stretches.push((index, index + 1)),
        }
    }
    stretches
}

/// The line of a bank, broken where nothing counts.
fn line(steps: &[TimeStep], bank: Bank, x: impl Fn(usize) -> f64, percent: &Scale) -> String {
    let mut path = String::new();
    let mut drawing = false;
    for (index, step) in steps.iter().enumerate() {
        let Some(mean) = step.mean(bank) else {
            drawing = false;
            continue;
        };
        let (x, y) = (x(index), percent.at(mean));
        if drawing {
            path += &format!("L{} {}", place(x), place(y));
        } else {
            // an isolated step is drawn as a dot
            path += &format!("M{} {}h0.1", place(x), place(y));
        }
        drawing = true;
    }
    path
}

fn axes(minutes: &Scale, percent: &Scale) -> Markup {
    let zero = place(percent.at(0.0));
    html! {
        @for tick in percent.ticks() {
            @let y = place(percent.at(tick));
            line.grid x1=(place(LEFT)) x2=(place(RIGHT)) y1=(y) y2=(y) {}
            text.tick.at-left x=(place(LEFT - 5.0)) y=(place(percent.at(tick) + 4.0)) { (percent.label(tick)) }
        }
        line.reference x1=(place(LEFT)) x2=(place(RIGHT)) y1=(zero) y2=(zero) {}
        @for tick in minutes.ticks() {
            @let x = place(minutes.at(tick));
            line.grid x1=(x) x2=(x) y1=(place(BOTTOM)) y2=(place(BOTTOM + 4.0)) {}
            text.tick x=(x) y=(place(BOTTOM + 17.0)) { (minutes.label(tick)) }
        }
        text.axis x=(place((LEFT + RIGHT) / 2.0)) y=(place(BOTTOM + 34.0)) { "minutes; upwards: total fuel trim, %" }
    }
}

fn legend(banks: &[Bank]) -> Vec<(Markup, String)> {
    let mut legend: Vec<(Markup, String)> = banks
        .iter()
        .map(|bank| {
            let sign = html! { path class={ "course bank-" (bank.number()) } d="M1 7H27" {} };
            (sign, format!("bank {}", bank.number()))
        })
        .collect();
    let shade = html! { rect.left-out x="1" y="1" width="26" height="12" {} };
    legend.push((shade, "left out".to_owned()));
    let line = html! { line.reference x1="1" x2="27" y1="7" y2="7" {} };
    legend.push((line, "no trim".to_owned()));
    legend
}

/// The label in words that a customer understands.
const fn words(label: Label) -> &'static str {
    match label {
        Label::EngineOff => "engine off",
        Label::Stale => "no fresh readings",
        Label::Implausible => "implausible readings",
        Label::Cold => "warming up",
        Label::OpenLoop => "open loop (mixture not controlled)",
        Label::FuelCut => "overrun with fuel cut",
        Label::Transient => "speed or load changing fast",
        Label::Relearn => "relearning after codes were cleared",
        Label::Used => "counts",
    }
}

/// What was left out and for how long, longest first.
fn left_out_words(course: &Course) -> String {
    let mut parts: Vec<(usize, Label)> = Label::ALL
        .into_iter()
        .filter(|label| *label != Label::Used)
        .map(|label| {
            (
                course
                    .seconds
                    .iter()
                    .filter(|second| second.label == label)
                    .count(),
                label,
            )
        })
        .filter(|(seconds, _)| *seconds >= WORTH_NAMING_S)
        .collect();
    parts.sort_by(|a, b| b.cmp(a));
    let parts: Vec<String> = parts
        .into_iter()
        .map(|(seconds, label)| format!("{} ({:.1} min)", words(label), seconds as f64 / 60.0))
        .collect();
    if parts.is_empty() {
        "Almost nothing was left out.".to_owned()
    } else {
        format!(
            "Left out, because fuel trim says nothing there: {}.",
            parts.join(", ")
        )
    }
}

fn alternative(course: &Course, steps: &[TimeStep], banks: &[Bank]) -> String {
    let counted = course
        .seconds
        .iter()
        .filter(|second| second.label == Label::Used)
        .count();
    let mut words = format!(
        "{:.1} minutes, {:.1} of them usable.",
        course.seconds.len() as f64 / 60.0,
        counted as f64 / 60.0
    );
    for bank in banks {
        let means = steps.iter().filter_map(|step| step.mean(*bank));
        let (low, high) = means.fold((f64::MAX, f64::MIN), |(low, high), mean| {
            (low.min(mean), high.max(mean))
        });
        let (low, high) = (signed(low), signed(high));
        words += &format!(" Bank {}: between {low} and {high} %.", bank.number());
    }
    words
}
