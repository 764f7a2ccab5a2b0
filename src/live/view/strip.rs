//! A strip of dots: a value over time around a zero line, two dots a letter wide and four high.

use ratatui::{buffer::Buffer, layout::Rect, style::Style};

/// Dots in a letter, by column and row (Unicode, Braille Patterns: dot numbers 1-2-3-7 and 4-5-6-8 as bits).
const DOTS: [[u8; 4]; 2] = [[0x01, 0x02, 0x04, 0x40], [0x08, 0x10, 0x20, 0x80]];

/// What the axes show.
#[derive(Debug, Clone, Copy)]
pub struct Axes {
    /// Time at the left edge and at the right.
    pub time: (f64, f64),
    /// Greatest size of a value, up and down.
    pub reach: f64,
}

/// Dots being set.
pub struct Strip {
    area: Rect,
    axes: Axes,
    letters: Vec<u8>,
}

impl Strip {
    /// No dot yet.
    pub fn new(area: Rect, axes: Axes) -> Self {
        Self {
            area,
            axes,
            letters: vec![0; area.area() as usize],
        }
    }

    /// Sets the dot of a value at a time; a value beyond the reach stands at the edge, a time outside nowhere.
    pub fn set(&mut self, time: f64, value: f64) {
        let (from, to) = self.axes.time;
        let across = (time - from) / (to - from);
        let down = 0.5 - 0.5 * (value / self.axes.reach).clamp(-1.0, 1.0);
        if !(0.0..=1.0).contains(&across) || !down.is_finite() {
            return;
        }
        let (columns, rows) = (
            2 * usize::from(self.area.width),
            4 * usize::from(self.area.height),
        );
        if columns == 0 || rows == 0 {
            return;
        }
        let x = ((across * (columns - 1) as f64).round() as usize).min(columns - 1);
        let y = ((down * (rows - 1) as f64).round() as usize).min(rows - 1);
        let letter = (y / 4) * usize::from(self.area.width) + x / 2;
        let dot = DOTS.get(x % 2).and_then(|column| column.get(y % 4));
        if let (Some(letter), Some(dot)) = (self.letters.get_mut(letter), dot) {
            *letter |= dot;
        }
    }

    /// Draws the zero line, and the dots over it.
    pub fn draw(&self, buffer: &mut Buffer, dots: Style, line: Style) {
        let middle = usize::from(self.area.height) / 2;
        let mut letters = self.letters.iter();
        for row in 0..self.area.height {
            for column in 0..self.area.width {
                let bits = letters.next().copied().unwrap_or(0);
                let (sign, style) = match bits {
                    0 if usize::from(row) == middle => ('╌', line),
                    0 => continue,
                    bits => (
                        char::from_u32(0x2800 + u32::from(bits)).unwrap_or(' '),
                        dots,
                    ),
                };
                if let Some(cell) = buffer.cell_mut((self.area.x + column, self.area.y + row)) {
                    cell.set_char(sign).set_style(style);
                }
            }
        }
    }
}
