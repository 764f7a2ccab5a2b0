//! Rows of values with their intervals along one axis, up to two sides in a row: before the work and after it.

use maud::{Markup, html};

use super::{
    axis::{Scale, place},
    figure::{Figure, WIDTH},
};

/// Left end of the axis, drawing units; names are to the left of it.
const LEFT: f64 = 148.0;
/// Right end of the axis, drawing units; numbers are to the right of it.
const RIGHT: f64 = WIDTH - 58.0;
/// Height of one side within a row, drawing units.
const SIDE: f64 = 18.0;
/// Smallest height of a row whose name takes two lines, drawing units.
const TWO_LINES: f64 = 26.0;
/// Height of the gap between rows, drawing units.
const GAP: f64 = 10.0;
/// Height of the axis below the rows, drawing units.
const FOOT: f64 = 40.0;

/// A value with its interval; `None` where it has no interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// The value.
    pub value: f64,
    /// Lower and upper end of the interval.
    pub interval: Option<[f64; 2]>,
}

/// One row.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Name of the row, in one or two lines.
    pub name: [String; 2],
    /// Values of the row's sides, in the order of [`Rows::sides`].
    pub marks: [Option<Mark>; 2],
}

/// A shaded range of the axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    /// Lower and upper end of the range.
    pub ends: [f64; 2],
    /// Meaning of the range.
    pub meaning: String,
}

/// A chart of rows.
pub struct Rows<'a> {
    /// Identifier inside the page.
    pub id: &'a str,
    /// Title: what the chart shows.
    pub title: &'a str,
    /// Name and unit of the axis.
    pub axis: &'a str,
    /// A reference value, and its meaning.
    pub reference: (f64, &'a str),
    /// A range of the axis shaded behind everything; `None` without one.
    pub band: Option<Band>,
    /// Names of the two sides.
    pub sides: [&'a str; 2],
    /// The rows.
    pub rows: Vec<Row>,
    /// Formats a number.
    pub number: fn(f64) -> String,
    /// Note on how to read the chart.
    pub note: &'a str,
}

impl Rows<'_> {
    /// The figure; `None` without any mark.
    pub fn figure(&self) -> Option<Markup> {
        let shown = self.shown_sides();
        let count = shown.iter().filter(|shown| **shown).count();
        if count == 0 {
            return None;
        }
        let scale = self.scale();
        let two_lines = self
            .rows
            .iter()
            .any(|row| row.name.iter().all(|line| !line.is_empty()));
        let least = if two_lines { TWO_LINES } else { SIDE };
        let side = (least / count as f64).max(SIDE);
        let row_height = count as f64 * side + GAP;
        let bottom = row_height * self.rows.len() as f64 + GAP;
        let drawing = html! {
            (self.grid(&scale, bottom))
            @for (number, row) in self.rows.iter().enumerate() {
                (self.row(row, number as f64 * row_height + GAP, side, &scale, shown))
            }
        };
        let figure = Figure {
            id: self.id,
            title: self.title,
            alternative: &self.alternative(),
            height: bottom + FOOT,
            drawing,
            legend: self.legend(shown),
            note: self.note,
        };
        Some(figure.markup())
    }

    fn shown_sides(&self) -> [bool; 2] {
        [0, 1].map(|side| self.rows.iter().any(|row| row.mark(side).is_some()))
    }

    fn scale(&self) -> Scale {
        let marks = self.rows.iter().flat_map(|row| row.marks.iter().flatten());
        let ends = |mark: &Mark| {
            let [low, high] = mark.interval.unwrap_or([mark.value; 2]);
            [mark.value, low, high]
        };
        let band = self.band.iter().flat_map(|band| band.ends);
        Scale::over(
            marks.flat_map(ends).chain(band).chain([self.reference.0]),
            LEFT,
            RIGHT,
        )
    }

    fn grid(&self, scale: &Scale, bottom: f64) -> Markup {
        let reference = place(scale.at(self.reference.0));
        let band = self
            .band
            .as_ref()
            .map(|band| band.ends.map(|end| scale.at(end)));
        html! {
            @if let Some([low, high]) = band {
                rect.left-out x=(place(low)) y="2" width=(place(high - low)) height=(place(bottom - 2.0)) {}
            }
            @for tick in scale.ticks() {
                @let x = place(scale.at(tick));
                line.grid x1=(x) x2=(x) y1="2" y2=(place(bottom)) {}
                text.tick x=(x) y=(place(bottom + 15.0)) { (scale.label(tick)) }
            }
            line.reference x1=(reference) x2=(reference) y1="2" y2=(place(bottom)) {}
            text.axis x=(place((LEFT + RIGHT) / 2.0)) y=(place(bottom + 33.0)) { (self.axis) }
        }
    }

    fn row(
        &self,
        row: &Row,
        top: f64,
        side_height: f64,
        scale: &Scale,
        shown: [bool; 2],
    ) -> Markup {
        let sides: Vec<usize> = (0..2)
            .filter(|side| shown.get(*side) == Some(&true))
            .collect();
        let middle = top + sides.len() as f64 * side_height / 2.0;
        let [name, more] = &row.name;
        let name_y = if more.is_empty() {
            middle + 4.0
        } else {
            middle - 3.0
        };
        html! {
            text.name x=(place(LEFT - 8.0)) y=(place(name_y)) { (name) }
            @if !more.is_empty() {
                text.more x=(place(LEFT - 8.0)) y=(place(middle + 11.0)) { (more) }
            }
            @for (place_in_row, side) in sides.iter().enumerate() {
                @if let Some(mark) = row.mark(*side) {
                    @let y = top + (place_in_row as f64 + 0.5) * side_height;
                    (drawn(*side, mark, scale, y))
                    text.value x=(place(WIDTH - 2.0)) y=(place(y + 4.0)) { ((self.number)(mark.value)) }
                }
            }
        }
    }

    fn legend(&self, shown: [bool; 2]) -> Vec<(Markup, String)> {
        let scale = Scale::over([0.0, 1.0], 2.0, 26.0);
        let sides = (0..2)
            .zip(self.sides)
            .zip(shown)
            .filter(|(_, shown)| *shown);
        let mut legend: Vec<(Markup, String)> = sides
            .map(|((side, name), _)| {
                let mut marks = self.rows.iter().filter_map(|row| row.mark(side));
                let interval = marks
                    .any(|mark| mark.interval.is_some())
                    .then_some([0.0, 1.0]);
                let words = match interval {
                    Some(_) => format!("{name}, with its interval"),
                    None => name.to_owned(),
                };
                let sign = Mark {
                    value: 0.5,
                    interval,
                };
                (drawn(side, sign, &scale, 7.0), words)
            })
            .collect();
        let line = html! { line.reference x1="14" x2="14" y1="0" y2="14" {} };
        legend.push((line, self.reference.1.to_owned()));
        if let Some(band) = &self.band {
            let shade = html! { rect.left-out x="1" y="1" width="26" height="12" {} };
            legend.push((shade, band.meaning.clone()));
        }
        legend
    }

    fn alternative(&self) -> String {
        let mut sentences = Vec::new();
        for row in &self.rows {
            let name = row.name.join(" ");
            for (side, called) in self.sides.iter().enumerate() {
                let Some(mark) = row.mark(side) else { continue };
                let interval = mark.interval.map_or_else(String::new, |[low, high]| {
                    format!(" ({} to {})", (self.number)(low), (self.number)(high))
                });
                let value = (self.number)(mark.value);
                sentences.push(format!("{}, {called}: {value}{interval}.", name.trim()));
            }
        }
        format!("{}: {}", self.axis, sentences.join(" "))
    }
}

impl Row {
    fn mark(&self, side: usize) -> Option<Mark> {
        self.marks.get(side).copied().flatten()
    }
}

/// A mark: a ring before, a filled square after; its interval as a line with ends.
fn drawn(side: usize, mark: Mark, scale: &Scale, y: f64) -> Markup {
    let x = scale.at(mark.value);
    html! {
        g class=(if side == 0 { "before" } else { "after" }) {
            @if let Some([low, high]) = mark.interval.map(|ends| ends.map(|end| scale.at(end))) {
                path.interval d={
                    "M" (place(low)) " " (place(y - 4.0)) "v8M" (place(low)) " " (place(y)) "H" (place(high))
                    "M" (place(high)) " " (place(y - 4.0)) "v8"
                } {}
            }
            @if side == 0 {
                circle.sign cx=(place(x)) cy=(place(y)) r="4.5" {}
            } @else {
                rect.sign x=(place(x - 4.5)) y=(place(y - 4.5)) width="9" height="9" {}
            }
        }
    }
}
