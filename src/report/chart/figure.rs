//! The frame around every chart: title, legend, drawing with its text alternative, and a note.

use maud::{Markup, html};

/// Width of every drawing in its own units; narrow, so that its letters can be read on a phone.
pub const WIDTH: f64 = 440.0;

/// A chart with all that belongs to it.
pub struct Figure<'a> {
    /// Identifier inside the page.
    pub id: &'a str,
    /// Title: what the chart shows.
    pub title: &'a str,
    /// Text alternative: what the chart shows, in words and with the numbers.
    pub alternative: &'a str,
    /// Height of the drawing, drawing units.
    pub height: f64,
    /// The drawing.
    pub drawing: Markup,
    /// Meaning of each sign in the drawing.
    pub legend: Vec<(Markup, String)>,
    /// Note on how to read the chart.
    pub note: &'a str,
}

impl Figure<'_> {
    /// The whole figure.
    pub fn markup(&self) -> Markup {
        let (title, words) = (format!("{}-title", self.id), format!("{}-words", self.id));
        html! {
            figure id=(self.id) {
                figcaption { (self.title) }
                @if !self.legend.is_empty() {
                    ul.legend {
                        @for (sign, meaning) in &self.legend {
                            li {
                                svg viewBox="0 0 28 14" width="28" height="14" aria-hidden="true" { (sign) }
                                (meaning)
                            }
                        }
                    }
                }
                svg.drawing role="img" viewBox={ "0 0 " (WIDTH) " " (format!("{:.0}", self.height)) }
                    aria-labelledby={ (title) " " (words) } {
                    title id=(title) { (self.title) }
                    desc id=(words) { (self.alternative) }
                    (self.drawing)
                }
                p.note { (self.note) }
            }
        }
    }
}
