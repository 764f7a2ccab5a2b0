//! Misfires of each cylinder per 1000 revolutions, with their interval.

use ratatui::{
    buffer::Buffer,
    layout::Rect,
    text::{Line, Span},
};

use super::pieces::{bar, heading, line, paragraph};
use crate::{
    diagnose::diagnosis::{Counted, CylinderRate, MisfireSource, Misfires},
    live::{scene::Scene, theme::Theme},
    report::words::thousands,
};

/// The bars' range is never less than this, so that a single misfire is no full bar; per 1000 revolutions.
const LEAST_REACH: f64 = 2.0;

/// Draws the panel.
pub fn draw(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, theme: Theme) {
    let misfires = &scene.judgement.diagnosis.misfires;
    let turned = misfires.revolutions.map(|turned| {
        let turned = thousands(turned);
        format!("per 1000 revolutions, {turned} revolutions so far")
    });
    let short = ["per 1000 revolutions", "per 1000 rev"].map(str::to_owned);
    let explained: Vec<String> = turned.into_iter().chain(short).collect();
    let area = heading(buffer, area, "Misfires", &explained, theme);
    match misfires.source {
        MisfireSource::Counters => counted(buffer, area, misfires, theme),
        MisfireSource::Codes => {
            let named: Vec<String> = misfires
                .cylinders
                .iter()
                .map(|cylinder| cylinder.cylinder.to_string())
                .collect();
            let words = format!(
                "Codes name cylinder {}. This car does not count misfires.",
                named.join(", ")
            );
            paragraph(buffer, area, 0, &words, theme.strong());
        }
        MisfireSource::Nothing => {
            let words = "No misfire counter read yet. Some cars have none.";
            paragraph(buffer, area, 0, words, theme.quiet());
        }
    }
}

fn counted(buffer: &mut Buffer, area: Rect, misfires: &Misfires, theme: Theme) {
    let counted: Vec<(&CylinderRate, Counted)> = misfires
        .cylinders
        .iter()
        .filter_map(|cylinder| Some((cylinder, cylinder.counted?)))
        .collect();
    let rates = counted.iter().map(|(_, counted)| counted.per_1000_rev);
    let reach = rates.fold(LEAST_REACH, f64::max);
    let standing_out = misfires.standing_out.map(|found| found.cylinder);
    let columns = counted.len().div_ceil(usize::from(area.height).max(1));
    let rows = counted.len().div_ceil(columns.max(1)).max(1);
    let width = area.width / columns.max(1) as u16;
    for (index, (cylinder, counted)) in counted.iter().enumerate() {
        let place = Rect {
            x: area.x + width * (index / rows) as u16,
            width: width.saturating_sub(u16::from(columns > 1)),
            ..area
        };
        let out = standing_out == Some(cylinder.cylinder);
        let drawn = row(cylinder.cylinder, counted, reach, place.width, out, theme);
        line(buffer, place, (index % rows) as u16, &drawn);
    }
}

/// Cells for the cylinder's number.
const CYLINDER: u16 = 4;

/// Cells for the rate of misfires.
const RATE: u16 = 6;

/// Cells for the interval of the rate.
const INTERVAL: u16 = 10;

/// Least and most cells for the bar.
const BAR: (u16, u16) = (2, 24);

/// Cylinder, bar, rate, and where there is room the interval; an arrow at the cylinder that stands out.
fn row(
    cylinder: u8,
    counted: &Counted,
    reach: f64,
    width: u16,
    stands_out: bool,
    theme: Theme,
) -> Line<'static> {
    let interval = match counted.high {
        high if high >= 100.0 => format!(" {:.0}–{high:.0}", counted.low),
        high => format!(" {:.1}–{high:.1}", counted.low),
    };
    let rate = match counted.per_1000_rev {
        high if high >= 100.0 => format!(" {high:>5.0}"),
        low => format!(" {low:>5.2}"),
    };
    let has_interval = width >= CYLINDER + BAR.0 + RATE + INTERVAL;
    let interval = if has_interval {
        interval
    } else {
        String::new()
    };
    let numbers = CYLINDER + RATE + if has_interval { INTERVAL } else { 0 };
    let bar_width = width.saturating_sub(numbers).min(BAR.1);
    let drawn = bar(counted.per_1000_rev / reach, bar_width);
    let (sign, style) = if stands_out {
        ("▶", theme.stands_out())
    } else {
        (" ", theme.counts())
    };
    let number = if stands_out {
        theme.stands_out()
    } else {
        theme.strong()
    };
    let bar_width = usize::from(bar_width);
    Line::from(vec![
        Span::styled(format!("{sign}{cylinder:>2} "), number),
        Span::styled(format!("{drawn:<bar_width$}"), style),
        Span::styled(rate, number),
        Span::styled(interval, theme.quiet()),
    ])
}
