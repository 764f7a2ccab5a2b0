//! Where the engine was driven so far, engine speed by load: each box fills as seconds that count accumulate.

use ratatui::{
    buffer::Buffer,
    layout::Rect,
    style::Style,
    text::{Line, Span},
};

use super::pieces::{heading, line};
use crate::{
    compare::coverage::WantedCell,
    live::{scene::Scene, theme::Theme},
    series::{gather::cell::Cell, label::region::Region, summary::CellSummary},
};

/// How full a box looks, by seconds that count.
const FILLS: [(f64, char); 5] = [
    (60.0, '█'),
    (30.0, '▓'),
    (15.0, '▒'),
    (5.0, '░'),
    (0.5, '·'),
];
/// Letters a box is wide.
const BOX: u16 = 3;
/// Letters for the loads on the left.
const AXIS: u16 = 6;
/// Rows of load that the series know.
const LOADS: u8 = 10;
/// Columns of engine speed that are always shown: up to 4000 rpm.
const LEAST_COLUMNS: u8 = 8;

/// A body this high leaves room for a row a class of load.
const ENOUGH_FOR_ALL: u16 = 32;

/// Height of the panel on a body of this height: heading, rows of load, engine speeds.
pub fn height(body: u16) -> u16 {
    let rows = if body >= ENOUGH_FOR_ALL {
        LOADS
    } else {
        LOADS / 2
    };
    u16::from(rows) + 2
}

/// Width of the panel: as wide as its columns, but half the body at most.
pub fn width(body: u16, scene: &Scene<'_>) -> u16 {
    let columns = columns_used(&scene.judgement.summary.cells).max(LEAST_COLUMNS);
    (AXIS + BOX * u16::from(columns) + 1).min(body / 2)
}

fn columns_used(cells: &[CellSummary]) -> u8 {
    let columns = cells.iter().map(|cell| cell.cell.speed + 1);
    columns.max().unwrap_or(0)
}

/// Draws the panel.
pub fn draw(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, theme: Theme) {
    let explained = ["seconds: ░5 ▒15 ▓30 █60", "░5 ▒15 ▓30 █60 s"].map(str::to_owned);
    let area = heading(buffer, area, "Driven", &explained, theme);
    if area.height < 3 {
        return;
    }
    let cells = &scene.judgement.summary.cells;
    let mut grid = Grid::of(area, cells, now(scene));
    let wanted = scene.guidance.map_or(&[][..], |guidance| &guidance.wanted);
    grid.outline(wanted);
    for row in 0..grid.rows {
        line(buffer, area, row, &grid.line(row, theme));
    }
    line(buffer, area, grid.rows, &grid.axis(theme));
}

/// The box that the engine runs in now.
fn now(scene: &Scene<'_>) -> Option<Cell> {
    scene.model?.history().latest()?.cell
}

/// The boxes as they fit into an area: one or two classes of load a row.
struct Grid {
    rows: u16,
    /// Classes of load in a row.
    together: u8,
    columns: u8,
    /// Seconds by row from the top and column.
    seconds: Vec<Vec<f64>>,
    now: Option<(u16, u8)>,
    wanted: Vec<(u16, u8)>,
}

impl Grid {
    fn of(area: Rect, cells: &[CellSummary], now: Option<Cell>) -> Self {
        let together = if area.height > u16::from(LOADS) { 1 } else { 2 };
        let rows = u16::from(LOADS.div_ceil(together)).min(area.height - 1);
        let room = (area.width.saturating_sub(AXIS) / BOX) as u8;
        let used = cells
            .iter()
            .map(|cell| cell.cell.speed + 1)
            .max()
            .unwrap_or(0);
        let columns = used.max(LEAST_COLUMNS).min(room);
        let mut grid = Self {
            rows,
            together,
            columns,
            seconds: vec![vec![0.0; usize::from(columns)]; usize::from(rows)],
            now: None,
            wanted: Vec::new(),
        };
        grid.now = now.and_then(|cell| grid.place(cell));
        for cell in cells.iter().filter(|cell| cell.bank == 1) {
            let place = grid.place(cell.cell);
            let seconds = place.and_then(|(row, column)| {
                grid.seconds
                    .get_mut(usize::from(row))?
                    .get_mut(usize::from(column))
            });
            if let Some(seconds) = seconds {
                *seconds += cell.seconds;
            }
        }
        grid
    }

    /// Outlines boxes that are still wanted; when standing, the whole column, since load cannot be chosen.
    fn outline(&mut self, wanted: &[WantedCell]) {
        for cell in wanted.iter().map(|wanted| (wanted.region, wanted.cell)) {
            match cell {
                (Region::LightCruise | Region::Loaded, cell) => {
                    self.wanted.extend(self.place(cell));
                }
                (Region::WarmIdle | Region::RaisedIdle, cell) => {
                    self.wanted
                        .extend((0..self.rows).map(|row| (row, cell.speed)));
                }
            }
        }
    }

    /// Row from the top and column of a box.
    fn place(&self, cell: Cell) -> Option<(u16, u8)> {
        let row = self
            .rows
            .checked_sub(1 + u16::from(cell.load / self.together))?;
        (cell.speed < self.columns).then_some((row, cell.speed))
    }

    fn line(&self, row: u16, theme: Theme) -> Line<'static> {
        let load = (self.rows - row) * u16::from(self.together) * 10;
        let mut spans = vec![Span::styled(format!("{load:>3} % "), theme.quiet())];
        let seconds = self.seconds.get(usize::from(row)).into_iter().flatten();
        for (column, seconds) in (0..).zip(seconds) {
            let here = self.now == Some((row, column));
            let wanted = self.wanted.contains(&(row, column));
            spans.push(square(*seconds, here, wanted, theme));
        }
        Line::from(spans)
    }

    /// Engine speeds under every second line between boxes, those that have room.
    fn axis(&self, theme: Theme) -> Line<'static> {
        let end = usize::from(AXIS + BOX * u16::from(self.columns));
        let mut text = format!("{:<1$}", "rpm", usize::from(AXIS));
        for column in (0..self.columns).step_by(2) {
            let label = format!("{}", 500 * u32::from(column));
            if text.len() + label.len() <= end {
                text += &format!("{label:<0$}", 2 * usize::from(BOX));
            }
        }
        Line::styled(text.trim_end().to_owned(), theme.quiet())
    }
}

fn square(seconds: f64, here: bool, wanted: bool, theme: Theme) -> Span<'static> {
    let fill = FILLS.iter().find(|(from, _)| seconds >= *from);
    let fill = fill.map_or(' ', |(_, sign)| *sign);
    let middle = if here { '◆' } else { fill };
    let (left, right) = if wanted { ('[', ']') } else { (fill, fill) };
    let text: String = [left, middle, right].iter().collect();
    let style: Style = if here {
        theme.stands_out()
    } else {
        theme.counts()
    };
    Span::styled(text, style)
}
