//! The engine that a cause acts on: how its air is metered, its banks, and how it was run in each region.
//!
//! What the vehicle file does not say stays open: each way in which the engine may be built is one [`EngineConfig`] with a
//! weight.

use enum_map::EnumMap;

use crate::{
    bank::{Bank, ByBank},
    series::{
        label::region::{ByRegion, Region},
        summary::{Facts, Operation, Summary},
    },
    vehicle::{AirMetering, Vehicle},
};

/// One way in which the engine may be built.
#[derive(Debug, Clone, PartialEq)]
pub struct EngineConfig {
    /// How the air is measured.
    pub metering: AirMetering,
    /// Number of cylinders of each bank.
    pub cylinders: ByBank<f64>,
    /// Natural logarithm of the probability that the engine is built this way.
    pub log_weight: f64,
}

impl EngineConfig {
    /// Number of cylinders of the engine.
    pub fn total(&self) -> f64 {
        self.cylinders.values().sum()
    }

    /// Bank (from 0) of a cylinder (from 1); `None` where it is not known.
    pub fn cylinders_of(&self, bank: Bank) -> f64 {
        self.cylinders[bank].max(1.0)
    }

    /// Share of the engine's cylinders that a bank (from 0) has, 0 to 1.
    pub fn share(&self, bank: Bank) -> f64 {
        self.cylinders_of(bank) / self.total().max(1.0)
    }
}

/// The banks of the engine, as far as known.
#[derive(Debug, Clone)]
pub struct Banks {
    count: usize,
    vehicle: Vehicle,
}

impl Banks {
    /// Takes as many banks as the vehicle file states or fuel trims show.
    pub fn new(summaries: &[Summary], vehicle: &Vehicle) -> Self {
        Self {
            count: bank_count(summaries, vehicle),
            vehicle: vehicle.clone(),
        }
    }

    /// Number of banks.
    pub const fn count(&self) -> usize {
        self.count
    }

    /// Every bank that it has, bank 1 first.
    pub fn all(&self) -> impl Iterator<Item = Bank> + use<> {
        Bank::ALL.into_iter().take(self.count)
    }

    /// Bank of a cylinder, where it is known.
    pub fn of(&self, cylinder: u8) -> Option<Bank> {
        if self.count == 1 {
            return Some(Bank::One);
        }
        self.vehicle.bank_of(cylinder)
    }
}

/// Operating point of the engine in one region.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Air flow as a multiple of warm idle's.
    pub air: f64,
    /// Manifold pressure as a share of barometric pressure, 0 to 1; also the measure of the charge.
    pub manifold_ratio: f64,
    /// Engine speed, rpm.
    pub rpm: f64,
}

/// Operating points, region by region.
pub type Points = ByRegion<Point>;

/// Operating points where nothing was recorded: air flow as a multiple of warm idle's, manifold pressure share, rpm
/// (common practice: about 1.6 g/s per litre at warm idle, 7 at light cruise).
const USUAL: Points = EnumMap::from_array([
    point(1.0, 0.33, 750.0),
    point(2.4, 0.30, 2500.0),
    point(4.4, 0.45, 2000.0),
    point(9.0, 0.75, 2300.0),
]);
/// Cylinder counts of engines with one bank on the road, each with its share (common practice).
const USUAL_ON_ONE_BANK: &[(u8, f64)] = &[(4, 0.75), (3, 0.15), (6, 0.10)];
/// Cylinder counts of engines with more than one bank on the road, each with its share (common practice).
const USUAL_ON_MORE_BANKS: &[(u8, f64)] = &[(6, 0.50), (8, 0.40), (4, 0.10)];
/// Air flow at warm idle per litre of displacement, g/s (common practice: 1.3 to 2).
const IDLE_AIR_G_PER_S_L: f64 = 1.6;
/// Barometric pressure at sea level, kPa, where none is reported.
const USUAL_BAROMETER_KPA: f64 = 100.0;

const fn point(air: f64, manifold_ratio: f64, rpm: f64) -> Point {
    Point {
        air,
        manifold_ratio,
        rpm,
    }
}

/// Every way in which this engine may be built; the weights sum to 1. `on_bench` lists the cylinders that bench
/// readings name.
pub fn configs(summaries: &[Summary], vehicle: &Vehicle, on_bench: &[u8]) -> Vec<EngineConfig> {
    let meterings = meterings(summaries, vehicle);
    let layouts = layouts(summaries, vehicle, on_bench);
    let mut all = Vec::new();
    for (metering, weight) in &meterings {
        for (cylinders, share) in &layouts {
            all.push(EngineConfig {
                metering: *metering,
                cylinders: *cylinders,
                log_weight: (weight * share).ln(),
            });
        }
    }
    all
}

/// How the air may be metered, with probabilities: a car that reports an air flow nearly always meters by it; one that
/// reports only manifold pressure meters by that (common practice).
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

fn layouts(summaries: &[Summary], vehicle: &Vehicle, on_bench: &[u8]) -> Vec<(ByBank<f64>, f64)> {
    let banks = bank_count(summaries, vehicle);
    if let Some(stated) = &vehicle.banks
        && stated.len() == banks
    {
        let mut stated = stated.iter().map(|bank| bank.len() as f64);
        let cylinders = ByBank::from_fn(|_| stated.next().unwrap_or_default());
        return vec![(cylinders, 1.0)];
    }
    let known = vehicle.cylinder_count().or_else(|| counted(summaries));
    let known = known.or_else(|| whole_set(on_bench));
    let highest = on_bench.iter().copied().max().unwrap_or(0);
    let even = |total: u8| {
        let each = f64::from(total) / banks as f64;
        let mut shares = std::iter::repeat_n(each, banks);
        ByBank::from_fn(|_| shares.next().unwrap_or_default())
    };
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

/// Number of cylinders where the bench form lists every cylinder from 1 to the last without a gap; `None` otherwise.
fn whole_set(on_bench: &[u8]) -> Option<u8> {
    let count = on_bench.len() as u8;
    let all = (1..=count).all(|number| on_bench.contains(&number));
    (all && count > 2).then_some(count)
}

/// Number of banks: as many as are stated or show fuel trims, whichever is more.
fn bank_count(summaries: &[Summary], vehicle: &Vehicle) -> usize {
    let shown = summaries
        .iter()
        .map(|summary| usize::from(summary.facts.banks));
    let stated = vehicle.banks.as_ref().map_or(1, Vec::len);
    shown
        .max()
        .unwrap_or(1)
        .max(stated)
        .clamp(1, Bank::ALL.len())
}

/// Number of cylinders that have misfire counters; `None` without counters.
fn counted(summaries: &[Summary]) -> Option<u8> {
    let counters = summaries
        .iter()
        .filter_map(|summary| summary.misfires.as_ref());
    let cylinders = counters.flat_map(|misfires| misfires.cylinders.iter().map(|c| c.cylinder));
    cylinders.max().filter(|count| (2..=16).contains(count))
}

/// Operating points over all captures; a region that was not recorded takes the usual values.
pub fn points(summaries: &[Summary], vehicle: &Vehicle) -> Points {
    let means = Means::of(summaries);
    let air = means.air(vehicle);
    let mut points = USUAL;
    for (region, point) in &mut points {
        point.rpm = means.rpm[region].unwrap_or(point.rpm);
        point.air = air[region].unwrap_or(point.air);
        let pressure = means.manifold_kpa[region].map(|kpa| kpa / means.barometer_kpa);
        // calculated load is the filling against that of a wide-open throttle (SAE J1979 PID 04)
        let manifold_ratio = pressure.or(means.load[region]);
        point.manifold_ratio = manifold_ratio
            .unwrap_or(point.manifold_ratio)
            .clamp(0.15, 1.5);
    }
    points
}

/// Means over captures, weighted by seconds.
struct Means {
    rpm: ByRegion<Option<f64>>,
    load: ByRegion<Option<f64>>,
    manifold_kpa: ByRegion<Option<f64>>,
    air_g_per_s: ByRegion<Option<f64>>,
    barometer_kpa: f64,
}

impl Means {
    fn of(summaries: &[Summary]) -> Self {
        let mean = |pick: fn(&Operation) -> Option<f64>| {
            ByRegion::from_fn(|region| {
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

    /// Air flow as a multiple of warm idle's by region: measured, or from speed and density, or from speed and load.
    fn air(&self, vehicle: &Vehicle) -> ByRegion<Option<f64>> {
        let product = |one: ByRegion<Option<f64>>| {
            one.map(|region, value| self.rpm[region].zip(value).map(|(rpm, value)| rpm * value))
        };
        let measured = self.air_g_per_s;
        let candidates = [measured, product(self.manifold_kpa), product(self.load)];
        let count = |values: &ByRegion<Option<f64>>| values.values().flatten().count();
        let most = candidates.iter().map(count).max().unwrap_or(0);
        let best = candidates.into_iter().find(|values| count(values) == most);
        let values = best.unwrap_or_default();
        let drawn = vehicle
            .displacement_l
            .filter(|_| values == measured)
            .map(|litres| litres * IDLE_AIR_G_PER_S_L);
        let idle = values[Region::WarmIdle]
            .or(drawn)
            .or_else(|| Self::idle_from_others(&values));
        values.map(|_, value| Some(value? / idle.filter(|air| *air > 0.0)?))
    }

    /// Air flow at warm idle from another region's flow and the usual ratio between them.
    fn idle_from_others(values: &ByRegion<Option<f64>>) -> Option<f64> {
        let known = values.iter();
        let mut guesses = known.filter_map(|(region, value)| Some((*value)? / USUAL[region].air));
        guesses.next()
    }
}
