//! Chart of the probability of each explanation.

use maud::{Markup, html};

use super::{
    Chart,
    axis::{Scale, place},
    figure::{Figure, WIDTH},
};
use crate::{
    diagnose::Diagnosis,
    report::words::{percent, phrase},
};

/// Probability below which explanations are drawn together (assumed).
const WORTH_SHOWING: f64 = 0.02;
/// Height of an explanation's row, drawing units: a line of words and a bar below it.
const ROW: f64 = 42.0;
/// Height of the axis below the rows, drawing units.
const FOOT: f64 = 38.0;
/// Left edge of the bars, drawing units.
const LEFT: f64 = 4.0;
/// Right edge of the bars, drawing units; numbers are to the right of it.
const RIGHT: f64 = WIDTH - 84.0;

/// The chart; `None` where nothing was judged.
pub fn chart(found: &Diagnosis) -> Chart {
    let bars = bars(found);
    if bars.is_empty() {
        return None;
    }
    let scale = Scale::over([0.0, 100.0], LEFT, RIGHT);
    let bottom = ROW * bars.len() as f64 + 4.0;
    let words: Vec<String> = bars
        .iter()
        .map(|(name, share)| format!("{name}: {}.", percent(*share)))
        .collect();
    let figure = Figure {
        id: "causes",
        title: "How probable each explanation is",
        alternative: &words.join(" "),
        height: bottom + FOOT,
        drawing: drawing(&bars, &scale, bottom),
        legend: Vec::new(),
        note: "Together they make 100 %. They rest on what was recorded and measured, and on how common each fault is.",
    };
    Some(figure.markup())
}

/// Name and probability of each explanation worth showing, and of the others together.
fn bars(found: &Diagnosis) -> Vec<(String, f64)> {
    let mut bars = Vec::new();
    let mut rest = 0.0;
    for (place, finding) in found.causes.iter().enumerate() {
        if finding.probability < WORTH_SHOWING && place > 0 {
            rest += finding.probability
        } else {
            bars.push((phrase(finding, found.banks), finding.probability))
        }
    }
    if rest > 0.0 {
        bars.push(("all others together".to_owned(), rest));
    }
    bars
}

fn drawing(bars: &[(String, f64)], scale: &Scale, bottom: f64) -> Markup {
    html! {
        @for tick in scale.ticks() {
            @let x = place(scale.at(tick));
            line.grid x1=(x) x2=(x) y1="2" y2=(place(bottom)) {}
            text.tick x=(x) y=(place(bottom + 15.0)) { (scale.label(tick)) }
        }
        text.axis x=(place((LEFT + RIGHT) / 2.0)) y=(place(bottom + 32.0)) { "probability, %" }
        @for (number, (name, share)) in bars.iter().enumerate() {
            @let top = number as f64 * ROW;
            @let end = scale.at(100.0 * share);
            text.bar-name x=(place(LEFT)) y=(place(top + 16.0)) { (name) }
            rect.bar x=(place(LEFT)) y=(place(top + 22.0)) width=(place((end - LEFT).max(1.0))) height="12" {}
            text.bar-value x=(place(end + 6.0)) y=(place(top + 32.5)) { (percent(*share)) }
        }
    }
}
