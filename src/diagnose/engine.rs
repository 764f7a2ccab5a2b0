//! The engine as a cause meets it: how its air is metered, its banks, and how it was run in each
//! region.
//!
//! What the vehicle file does not say stays open: every way the engine may be built is one
//! [`Setting`] with a weight.

use crate::{
    series::{
        label::region::Region,
        summary::{Facts, Operation, Summary},
    },
    vehicle::{AirMetering, Vehicle},
};

/// Regions, as array length.
pub const REGIONS: usize = Region::ALL.len();
/// Most banks.
pub const BANKS: usize = 4;

/// A value for each region.
pub type ByRegion = [f64; REGIONS];
/// A value for each bank and region.
pub type ByBank = [ByRegion; BANKS];

/// One way the engine may be built.
#[derive(Debug, Clone, PartialEq)]
pub struct Setting {
    /// How its air is measured.
    pub metering: AirMetering,
    /// Cylinders of each bank.
    pub cylinders: Vec<f64>,
    /// Logarithm of how probable this is.
    pub log_weight: f64,
}

impl Setting {
    /// Number of cylinders.
    pub fn total(&self) -> f64 {
        self.cylinders.iter().sum()
    }

    /// Cylinders of a bank (from 0); at least 1.
    pub fn of_bank(&self, bank: usize) -> f64 {
        self.cylinders.get(bank).copied().unwrap_or(1.0).max(1.0)
    }

    /// Share of the engine that a bank (from 0) is.
    pub fn share(&self, bank: usize) -> f64 {
        self.of_bank(bank) / self.total().max(1.0)
    }
}

/// The banks of the engine, as far as known.
#[derive(Debug, Clone)]
pub struct Banks {
    count: usize,
    vehicle: Vehicle,
}

impl Banks {
    /// As many as the vehicle file states or fuel trims show.
    pub fn new(summaries: &[Summary], vehicle: &Vehicle) -> Self {
        Self {
            count: bank_count(summaries, vehicle),
            vehicle: vehicle.clone(),
        }
    }

    /// How many there are.
    pub const fn count(&self) -> usize {
        self.count
    }

    /// Bank (from 0) of a cylinder, where it is known.
    pub fn of(&self, cylinder: u8) -> Option<usize> {
        if self.count == 1 {
            return Some(0);
        }
        let bank = self.vehicle.bank_of(cylinder)?;
        Some(usize::from(bank) - 1).filter(|bank| *bank < BANKS)
    }
}

/// How the engine was run in one region.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Air flow against warm idle's.
    pub air: f64,
    /// Manifold pressure against the barometer, also taken for the filling of the cylinders.
    pub filling: f64,
    /// Engine speed, rpm.
    pub rpm: f64,
}

/// How the engine was run, region by region.
pub type Points = [Point; REGIONS];

/// Usual operation where nothing is known: ratios of air flow as common practice has them (about
/// 1.6 g/s a litre at warm idle, 7 at light cruise).
const USUAL: Points = [
    point(1.0, 0.33, 750.0),
    point(2.4, 0.30, 2500.0),
    point(4.4, 0.45, 2000.0),
    point(9.0, 0.75, 2300.0),
];
/// Cylinders of the engines that are on the road, with how common they are (common practice).
const USUAL_ON_ONE_BANK: &[(u8, f64)] = &[(4, 0.75), (3, 0.15), (6, 0.10)];
const USUAL_ON_MORE_BANKS: &[(u8, f64)] = &[(6, 0.50), (8, 0.40), (4, 0.10)];
/// Air at warm idle for each litre, g/s (common practice: 1.3 to 2).
const IDLE_AIR_G_PER_S_L: f64 = 1.6;
/// Pressure at sea level, kPa, when the barometer is not known.
const USUAL_BAROMETER_KPA: f64 = 100.0;

const fn point(air: f64, filling: f64, rpm: f64) -> Point {
    Point { air, filling, rpm }
}

/// Every way this engine may be built, weights summing to 1.
/// `on_bench`: cylinders that bench readings name.
pub fn settings(summaries: &[Summary], vehicle: &Vehicle, on_bench: &[u8]) -> Vec<Setting> {
    let meterings = meterings(summaries, vehicle);
    let layouts = layouts(summaries, vehicle, on_bench);
    let mut all = Vec::new();
    for (metering, weight) in &meterings {
        for (cylinders, share) in &layouts {
            all.push(Setting {
                metering: *metering,
                cylinders: cylinders.clone(),
                log_weight: (weight * share).ln(),
            });
        }
    }
    all
}

/// A car that shows an air flow nearly always meters by it; one that shows only manifold pressure
/// by that (common practice).
fn meterings(summaries: &[Summary], vehicle: &Vehicle) -> Vec<(AirMetering, f64)> {
    if let Some(known) = vehicle.air_metering {
        return vec![(known, 1.0)];
    }
    let any = |seen: fn(&Facts) -> bool| summaries.iter().any(|summary| seen(&summary.facts));
    let flow = match (
        any(|facts| facts.air_flow_seen),
        any(|facts| facts.manifold_pressure_seen),
    ) {
        (true, _) => 0.95,
        (false, true) => 0.05,
        (false, false) => 0.6,
    };
    vec![(AirMetering::Maf, flow), (AirMetering::Map, 1.0 - flow)]
}

fn layouts(summaries: &[Summary], vehicle: &Vehicle, on_bench: &[u8]) -> Vec<(Vec<f64>, f64)> {
    let banks = bank_count(summaries, vehicle);
    if let Some(stated) = &vehicle.banks
        && stated.len() == banks
    {
        let cylinders = stated.iter().map(|bank| bank.len() as f64);
        return vec![(cylinders.collect(), 1.0)];
    }
    let known = vehicle.cylinder_count().or_else(|| counted(summaries));
    let known = known.or_else(|| whole_set(on_bench));
    let highest = on_bench.iter().copied().max().unwrap_or(0);
    let even = |total: u8| vec![f64::from(total) / banks as f64; banks];
    let usual = match banks {
        1 => USUAL_ON_ONE_BANK,
        _ => USUAL_ON_MORE_BANKS,
    };
    let fitting = usual.iter().filter(|(total, _)| *total >= highest);
    let fitting: Vec<(u8, f64)> = fitting.copied().collect();
    let all: f64 = fitting.iter().map(|(_, weight)| weight).sum();
    match known.or_else(|| fitting.is_empty().then_some(highest)) {
        Some(total) => vec![(even(total), 1.0)],
        None => fitting
            .into_iter()
            .map(|(total, weight)| (even(total), weight / all))
            .collect(),
    }
}

/// Number of cylinders when the bench names them all: whoever measures one after the other from 1 to the last.
fn whole_set(on_bench: &[u8]) -> Option<u8> {
    let count = on_bench.len() as u8;
    let all = (1..=count).all(|number| on_bench.contains(&number));
    (all && count > 2).then_some(count)
}

/// Banks of the engine: as many as are stated or show trims, whichever is more.
fn bank_count(summaries: &[Summary], vehicle: &Vehicle) -> usize {
    let shown = summaries
        .iter()
        .map(|summary| usize::from(summary.facts.banks));
    let stated = vehicle.banks.as_ref().map_or(1, Vec::len);
    shown.max().unwrap_or(1).max(stated).clamp(1, BANKS)
}

/// Cylinders that have misfire counters.
fn counted(summaries: &[Summary]) -> Option<u8> {
    let counters = summaries
        .iter()
        .filter_map(|summary| summary.misfires.as_ref());
    let cylinders = counters.flat_map(|misfires| misfires.cylinders.iter().map(|c| c.cylinder));
    cylinders.max().filter(|count| (2..=16).contains(count))
}

/// How the engine was run, over all captures; what was not seen is as usual.
pub fn points(summaries: &[Summary], vehicle: &Vehicle) -> Points {
    let means = Means::of(summaries);
    let air = means.air(vehicle);
    let mut points = USUAL;
    for (index, point) in points.iter_mut().enumerate() {
        let of = |values: [Option<f64>; REGIONS]| values.get(index).copied().flatten();
        point.rpm = of(means.rpm).unwrap_or(point.rpm);
        point.air = of(air).unwrap_or(point.air);
        let pressure = of(means.manifold_kpa).map(|kpa| kpa / means.barometer_kpa);
        // calculated load is the filling against that of a wide-open throttle (SAE J1979 PID 04)
        let filling = pressure.or(of(means.load));
        point.filling = filling.unwrap_or(point.filling).clamp(0.15, 1.5);
    }
    points
}

/// Means over captures, weighted by seconds.
struct Means {
    rpm: [Option<f64>; REGIONS],
    load: [Option<f64>; REGIONS],
    manifold_kpa: [Option<f64>; REGIONS],
    air_g_per_s: [Option<f64>; REGIONS],
    barometer_kpa: f64,
}

impl Means {
    fn of(summaries: &[Summary]) -> Self {
        let mean = |pick: fn(&Operation) -> Option<f64>| {
            Region::ALL.map(|region| {
                let rows = summaries.iter().flat_map(|summary| &summary.operation);
                let here = rows.filter(|row| row.region == region);
                let values = here.filter_map(|row| Some((pick(row)?, row.seconds)));
                let (sum, seconds) =
                    values.fold((0.0, 0.0), |(sum, all), (x, s)| (sum + x * s, all + s));
                (seconds > 0.0).then(|| sum / seconds)
            })
        };
        let mut barometers = summaries.iter().filter_map(|s| s.facts.barometer_kpa);
        Self {
            rpm: mean(|row| Some(row.engine_rpm)),
            load: mean(|row| row.load_pct.map(|load| load / 100.0)),
            manifold_kpa: mean(|row| row.manifold_kpa),
            air_g_per_s: mean(|row| row.air_g_per_s),
            barometer_kpa: barometers.next_back().unwrap_or(USUAL_BAROMETER_KPA),
        }
    }

    /// Air flow against warm idle's: measured, or by speed and density, or by speed and load.
    fn air(&self, vehicle: &Vehicle) -> [Option<f64>; REGIONS] {
        let product = |one: [Option<f64>; REGIONS]| {
            let mut all = [None; REGIONS];
            for (out, (a, b)) in all.iter_mut().zip(self.rpm.iter().zip(one)) {
                *out = a.zip(b).map(|(a, b)| a * b);
            }
            all
        };
        let measured = self.air_g_per_s;
        let candidates = [measured, product(self.manifold_kpa), product(self.load)];
        let count = |values: &[Option<f64>; REGIONS]| values.iter().flatten().count();
        let most = candidates.iter().map(count).max().unwrap_or(0);
        let best = candidates.into_iter().find(|values| count(values) == most);
        let values = best.unwrap_or([None; REGIONS]);
        let drawn = vehicle
            .displacement_l
            .filter(|_| values == measured)
            .map(|litres| litres * IDLE_AIR_G_PER_S_L);
        let [idle, ..] = values;
        let idle = idle.or(drawn).or_else(|| Self::idle_from_others(&values));
        values.map(|value| Some(value? / idle.filter(|air| *air > 0.0)?))
    }

    /// Warm idle's flow from another region's and the usual ratio.
    fn idle_from_others(values: &[Option<f64>; REGIONS]) -> Option<f64> {
        let known = values.iter().zip(USUAL);
        let mut guesses = known.filter_map(|(value, usual)| Some((*value)? / usual.air));
        guesses.next()
    }
}
