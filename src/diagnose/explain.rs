//! The pieces of evidence in a technician's words. What they weigh is computed elsewhere.

use std::fmt::Write;

use crate::{bench::Findings, quantity::signed, series::summary::Summary};

use super::{
    bench_words,
    diagnosis::{MisfireSource, Misfires, Trim},
    likelihood::bench,
    port_words,
    readings::{BENCH_FROM, Readings},
};

/// Differences of corrections below this are called alike, points.
const ALIKE_PCT: f64 = 3.0;

/// Departures of the metered air below this are called none, percent: engines differ by as much.
const ALIKE_AIR_PCT: f64 = 8.0;

/// A mean of fewer seconds weighs hardly anything and is not told.
const WORTH_TELLING_S: f64 = 20.0;

/// What was read, ready to be told.
#[derive(Debug)]
pub struct Explainer<'a> {
    trims: &'a [Trim],
    misfires: &'a Misfires,
    codes: &'a [String],
    quiet_points: Option<f64>,
    ethanol_pct: Option<f64>,
    metered_surplus_pct: Option<f64>,
    full_load_pct: Option<f64>,
    rail: Option<String>,
    filling: Option<String>,
    purge: Option<String>,
    drift: Option<String>,
    bench: [Option<String>; bench::PIECES],
}

impl<'a> Explainer<'a> {
    /// Takes what was read.
    pub fn new(
        summaries: &[Summary],
        trims: &'a [Trim],
        misfires: &'a Misfires,
        codes: &'a [String],
        readings: &Readings,
        bench: Option<&Findings>,
    ) -> Self {
        let trims_of = summaries.iter().flat_map(|summary| &summary.trims);
        let mut reports = summaries.iter().filter_map(|s| s.facts.ethanol_pct);
        let falls = trims_of.filter_map(|trim| Some(trim.mean_log - trim.without_misfire?.0));
        Self {
            trims,
            misfires,
            codes,
            ethanol_pct: reports.next_back(),
            metered_surplus_pct: readings.metered_surplus_pct(),
            full_load_pct: readings.full_load_pct(),
            rail: readings.rail().map(port_words::rail),
            filling: readings.filling().map(port_words::filling),
            purge: readings.purge().map(port_words::purge),
            drift: readings.drift().map(port_words::drift),
            bench: bench.map(bench_words::words).unwrap_or_default(),
            quiet_points: falls.map(|fall| 100.0 * fall).reduce(f64::max),
        }
    }

    /// The words for a piece; `None` where it was not read.
    pub fn words(&self, piece: usize) -> Option<String> {
        match piece {
            0 => self.banks(),
            1 => self.regions(),
            2 => self.level(),
            3 => self.misfires(),
            4 => self.quiet(),
            5 => self.codes(),
            6 => self.fuel(),
            7 => self.breathing(),
            8 => self.rail.clone(),
            9 => self.filling.clone(),
            10 => self.purge.clone(),
            11 => self.drift.clone(),
            piece => self.bench.get(piece - BENCH_FROM).cloned().flatten(),
        }
    }

    /// Fuel of bank 1 against another bank's where they differ most, over the regions in which both were recorded: the
    /// measure of `pintle.comparison/1`.
    fn banks(&self) -> Option<String> {
        let told = |trim: &&Trim| trim.bank > 1 && trim.seconds >= WORTH_TELLING_S;
        let ratios = self.trims.iter().filter(told).filter_map(|other| {
            let first = |t: &&Trim| t.bank == 1 && t.region == other.region;
            let first = self.trims.iter().find(first)?;
            let ratio = (100.0 + first.mean_pct) / (100.0 + other.mean_pct);
            Some((other.bank, 100.0 * (ratio - 1.0), other.region))
        });
        let (bank, pct, region) = ratios.max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))?;
        if pct.abs() < ALIKE_PCT {
            return Some(format!(
                "both banks need the same fuel, within {:.1} %",
                pct.abs()
            ));
        }
        let word = if pct > 0.0 { "more" } else { "less" };
        let (pct, region) = (pct.abs(), region.words());
        Some(format!(
            "bank 1 needs {pct:.1} % {word} fuel than bank {bank} ({region})"
        ))
    }

    /// The bank that is furthest from zero.
    fn worst_bank(&self) -> Option<u8> {
        let size = |bank: u8| {
            let of = self.trims.iter().filter(|trim| trim.bank == bank);
            of.map(|trim| trim.mean_pct.abs()).fold(0.0, f64::max)
        };
        let banks = self.trims.iter().map(|trim| trim.bank);
        banks.max_by(|a, b| size(*a).total_cmp(&size(*b)).then(b.cmp(a)))
    }

    fn regions(&self) -> Option<String> {
        let bank = self.worst_bank()?;
        let told = |trim: &&Trim| trim.bank == bank && trim.seconds >= WORTH_TELLING_S;
        let of: Vec<&Trim> = self.trims.iter().filter(told).collect();
        if of.len() < 2 {
            return None;
        }
        let mut text = format!("fuel trim of bank {bank}");
        for (index, trim) in of.iter().enumerate() {
            let comma = if index == 0 { "" } else { "," };
            let (mean, region) = (signed(trim.mean_pct), trim.region.at());
            let _ = write!(text, "{comma} {mean} % {region}");
        }
        let (low_flow, high_flow) = (of.first()?.mean_pct, of.last()?.mean_pct);
        let fall = low_flow - high_flow;
        let verdict = match () {
            () if fall.abs() < ALIKE_PCT => "much the same everywhere",
            () if low_flow.abs() > high_flow.abs() => {
                "largest at low air flow, fading as the air flow grows"
            }
            () if fall > 0.0 && high_flow < 0.0 => "falling as the air flow grows",
            () => "growing with the air flow",
        };
        let _ = write!(text, ": {verdict}");
        Some(text)
    }

    fn level(&self) -> Option<String> {
        if self.trims.is_empty() {
            return None;
        }
        let seconds: f64 = self.trims.iter().map(|trim| trim.seconds).sum();
        let sums = self.trims.iter().map(|trim| trim.mean_pct * trim.seconds);
        let mean = sums.sum::<f64>() / seconds.max(1.0);
        Some(format!("total fuel trim is {} % on average", signed(mean)))
    }

    fn misfires(&self) -> Option<String> {
        if self.misfires.source != MisfireSource::Counters {
            return None;
        }
        let counts = self.misfires.cylinders.iter();
        let counts: Vec<(u8, f64)> = counts
            .filter_map(|c| Some((c.cylinder, c.counted?.count)))
            .collect();
        let (cylinder, most) = counts.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1))?;
        let all: f64 = counts.iter().map(|(_, count)| count).sum();
        let revolutions = thousands(self.misfires.revolutions.unwrap_or(0.0));
        let others = all - most;
        Some(match (most, others) {
            (0.0, _) => format!("no cylinder misfired in {revolutions} revolutions"),
            _ => {
                let misfires = if most.round() == 1.0 {
                    "misfire"
                } else {
                    "misfires"
                };
                format!(
                    "cylinder {cylinder}: {most:.0} {misfires} in {revolutions} revolutions, the others {others:.0}"
                )
            }
        })
    }

    fn quiet(&self) -> Option<String> {
        let points = self.quiet_points?;
        Some(match points < 0.5 {
            true => "fuel trim is the same while nothing misfires".to_owned(),
            false => format!("fuel trim is {points:.1} points lower while nothing misfires"),
        })
    }

    fn fuel(&self) -> Option<String> {
        let pct = self.ethanol_pct?;
        Some(format!("the car reports {pct:.0} % ethanol in its fuel"))
    }

    fn breathing(&self) -> Option<String> {
        let metered = self
            .metered_surplus_pct
            .map(|pct| match pct.abs() < ALIKE_AIR_PCT {
                true => "the MAF sensor reads about what such an engine breathes".to_owned(),
                false => {
                    let word = if pct > 0.0 { "more" } else { "less" };
                    let pct = pct.abs();
                    format!(
                        "the MAF sensor reads {pct:.0} % {word} air than such an engine breathes"
                    )
                }
            });
        let full = self.full_load_pct;
        let full = full.map(|pct| format!("at full throttle it reported {pct:.0} % load"));
        let told: Vec<String> = metered.into_iter().chain(full).collect();
        (!told.is_empty()).then(|| told.join("; "))
    }

    fn codes(&self) -> Option<String> {
        Some(match self.codes {
            [] => "no stored or pending codes".to_owned(),
            codes => format!("codes: {}", codes.join(", ")),
        })
    }
}

/// A whole number with thin groups of three digits.
pub fn thousands(number: f64) -> String {
    let digits = format!("{number:.0}");
    let mut text = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index) % 3 == 0 {
            text.push(' ');
        }
        text.push(digit);
    }
    text
}
