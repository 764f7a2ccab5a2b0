//! The air that the meter tells, held against the air that the cylinders can breathe.
//!
//! An engine is an air pump: what it draws follows from displacement, speed, manifold pressure and the charge's
//! temperature, whatever becomes of the fuel. So a meter that reads wrong, or air that came in behind it, can be told from
//! fuel that lacks. A car that meters by manifold pressure reckons its air in the same way and proves nothing.

use crate::{
    series::{
        label::region::{ByRegion, Region},
        summary::{Operation, Summary},
    },
    statistics::density::{Exchangeable, log_student_t},
    vehicle::Vehicle,
};

use super::{
    super::forward::Prediction, Case, DEGREES_OF_FREEDOM, Evidence, Fact, Piece, Sources,
    full_load::FullLoad,
};

/// Gas constant of air, kPa·L/(g·K).
const GAS_CONSTANT: f64 = 0.287;
/// Air that fills a litre when absolute load is 100 %, g (SAE J1979, PID 43).
const FULL_G_PER_L: f64 = 1.184;
/// A cylinder draws once in two revolutions: seconds a minute times two.
const DRAWS: f64 = 120.0;
/// Volumetric efficiency against the manifold's density without the burnt gas kept back, and how the kept gas takes its
/// share as the manifold empties: 1 / (γ (r − 1)) with γ = 1.35 and compression 10.5 (Heywood, *Internal Combustion Engine
/// Fundamentals*, chapter 6, from memory).
const BREATHES: f64 = 0.87;
const KEPT_BACK: f64 = 1.0 / (1.35 * 9.5);
/// The charge is warmer than the intake air, K (common practice).
const CHARGE_WARMER_K: f64 = 20.0;
/// Where barometer and intake temperature are not told: sea level, a warm engine bay.
const USUAL_BAROMETER_KPA: f64 = 100.0;
const USUAL_INTAKE_C: f64 = 30.0;
/// How far engines differ from that: everywhere alike (cams, ports, the meter's age), and region by region (cams that move,
/// exhaust gas led back), as logarithms. Common practice knows 0.75 to 0.95 on sound engines.
const ENGINE: f64 = 0.09;
const ENGINE_REGION: f64 = 0.045;
/// The same where no manifold pressure was read and only the air that a warm engine needs without load is known: 1.45 g/s
/// a litre at 750 rpm, 1.1 to 1.9 being usual with gear, fan and compressor, 3.8 at 2500 rpm (common practice).
const AT_IDLE: (f64, f64) = (1.45, 750.0);
/// Air of a warm engine at 2500 rpm without load (see [`AT_IDLE`]).
const AT_2500_RPM: (f64, f64) = (3.8, 2500.0);
const NEEDS: f64 = 0.20;
const NEEDS_REGION: f64 = 0.12;
/// A region counts from so many seconds on.
const LEAST_S: f64 = 20.0;

/// The air, where it was measured beside a known displacement, or full load was seen.
pub fn read(sources: &Sources<'_>) -> Option<Piece> {
    let breathing = Breathing::new(sources.summaries, sources.vehicle)?;
    let (surplus_pct, full_load_pct) = (breathing.surplus_pct(), breathing.full_load_pct());
    let fact = Fact::Air {
        surplus_pct,
        full_load_pct,
    };
    let is_told = surplus_pct.or(full_load_pct).is_some();
    Some(Piece::new(breathing, is_told.then_some(fact)))
}

impl Evidence for Breathing {
    fn log_likelihood(&self, case: &Case<'_>) -> f64 {
        self.under(case.prediction)
    }
}

/// Metered air over what the engine should draw, as logarithms by region, and the load told at full throttle.
#[derive(Debug, Clone, Copy)]
pub struct Breathing {
    surplus_log: ByRegion<Option<f64>>,
    full_load: Option<FullLoad>,
    engine: f64,
    engine_region: f64,
}

impl Breathing {
    /// Takes the captures together; `None` where neither full load was told nor an air flow beside a known displacement.
    pub fn new(summaries: &[Summary], vehicle: &Vehicle) -> Option<Self> {
        let by_pressure = |summary: &Summary, row: &Operation, litres: f64| {
            let barometer = summary.facts.barometer_kpa.unwrap_or(USUAL_BAROMETER_KPA);
            let intake_c = summary.facts.intake_air_c.unwrap_or(USUAL_INTAKE_C);
            let filling = (row.manifold_kpa? / barometer).clamp(0.1, 1.1);
            let breathes = BREATHES * (1.0 - KEPT_BACK * (1.0 / filling - 1.0));
            let charge_k = 273.15 + intake_c + CHARGE_WARMER_K;
            let density = filling * barometer / (GAS_CONSTANT * charge_k);
            Some(breathes * density * litres * row.engine_rpm / DRAWS)
        };
        let unloaded = |_: &Summary, row: &Operation, litres: f64| {
            let (g_per_s_l, rpm) = match row.region {
                Region::WarmIdle => AT_IDLE,
                Region::RaisedIdle => AT_2500_RPM,
                Region::LightCruise | Region::Loaded => return None,
            };
            Some(g_per_s_l * litres * row.engine_rpm / rpm)
        };
        let litres = vehicle.displacement_l.or_else(|| displacement_l(summaries));
        let none = ByRegion::default();
        let by_pressure = litres.map_or(none, |litres| surplus(summaries, litres, by_pressure));
        let unloaded = litres.map_or(none, |litres| surplus(summaries, litres, unloaded));
        let (surplus_log, engine, engine_region) = if by_pressure == none {
            (unloaded, NEEDS, NEEDS_REGION)
        } else {
            (by_pressure, ENGINE, ENGINE_REGION)
        };
        let full_load = FullLoad::new(summaries);
        (surplus_log != none || full_load.is_some()).then_some(Self {
            surplus_log,
            full_load,
            engine,
            engine_region,
        })
    }

    /// Mean over the regions, percent: what the meter tells too much; `None` where only full load was told.
    pub fn surplus_pct(&self) -> Option<f64> {
        let known: Vec<f64> = self.surplus_log.into_values().flatten().collect();
        let mean = known.iter().sum::<f64>() / known.len() as f64;
        (!known.is_empty()).then(|| 100.0 * mean.exp_m1())
    }

    /// The highest load told at full throttle, percent.
    pub fn full_load_pct(&self) -> Option<f64> {
        self.full_load.map(|load| load.pct())
    }

    /// Logarithm of the likelihood, up to what is the same for all predictions.
    fn under(&self, prediction: &Prediction) -> f64 {
        let surplus = self.surplus_log.iter();
        let residuals = surplus
            .filter_map(|(region, surplus)| Some((*surplus)? - prediction.metered_log[region]));
        // all regions share the engine's own departure
        let found = Exchangeable::of(residuals, self.engine_region, self.engine);
        let full_load = self
            .full_load
            .map_or(0.0, |load| load.log_likelihood(prediction));
        full_load + log_student_t(found.distance, found.count, DEGREES_OF_FREEDOM)
    }
}

/// Metered air over `expected`, weighted by seconds over the captures.
fn surplus(
    summaries: &[Summary],
    litres: f64,
    expected: impl Fn(&Summary, &Operation, f64) -> Option<f64>,
) -> ByRegion<Option<f64>> {
    ByRegion::from_fn(|region| {
        let rows = summaries.iter().flat_map(|summary| {
            let here = summary
                .operation
                .iter()
                .filter(move |row| row.region == region);
            here.map(move |row| (summary, row))
        });
        let logs = rows.filter_map(|(summary, row)| {
            let told = row.air_g_per_s.filter(|air| *air > 0.0)?;
            let expected = expected(summary, row, litres).filter(|air| *air > 0.0)?;
            Some((row.seconds, (told / expected).ln()))
        });
        let (seconds, sum) = logs.fold((0.0, 0.0), |(seconds, sum), (more, log)| {
            (seconds + more, sum + more * log)
        });
        (seconds >= LEAST_S).then(|| sum / seconds)
    })
}

/// The displacement that follows from absolute load: both it and the flow tell the same metered air.
fn displacement_l(summaries: &[Summary]) -> Option<f64> {
    let rows = summaries.iter().flat_map(|summary| &summary.operation);
    let told = rows.filter_map(|row| {
        let share = row.absolute_load_pct.filter(|load| *load > 5.0)? / 100.0;
        let per_cycle_g = row.air_g_per_s? * DRAWS / row.engine_rpm;
        Some((row.seconds, per_cycle_g / (FULL_G_PER_L * share)))
    });
    let (seconds, sum) = told.fold((0.0, 0.0), |(seconds, sum), (more, litres)| {
        (seconds + more, sum + more * litres)
    });
    let litres = sum / seconds;
    (seconds >= LEAST_S && (0.5..=9.0).contains(&litres)).then_some(litres)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::series::summary::Facts;

    /// 2.0 L at 2000 rpm and 45 kPa of 100, 30 °C: 0.87 (1 − 1.222 / 12.825) = 0.787 of the density
    /// 45 / (0.287 × 323.15) = 0.485 g/L draws 0.787 × 0.485 × 2.0 × 2000 / 120 = 12.7 g/s.
    fn cruising(air_g_per_s: f64, absolute_load_pct: Option<f64>) -> Summary {
        Summary {
            operation: vec![Operation {
                region: Region::LightCruise,
                seconds: 300.0,
                engine_rpm: 2000.0,
                load_pct: None,
                absolute_load_pct,
                manifold_kpa: Some(45.0),
                air_g_per_s: Some(air_g_per_s),
                purge_pct: None,
                spark_deg: None,
            }],
            facts: Facts {
                barometer_kpa: Some(100.0),
                intake_air_c: Some(30.0),
                ..Facts::default()
            },
            ..Summary::default()
        }
    }

    fn two_litres() -> Vehicle {
        Vehicle {
            displacement_l: Some(2.0),
            ..Vehicle::default()
        }
    }

    #[test]
    fn a_sound_engine_breathes_what_the_sum_says() {
        let found = Breathing::new(&[cruising(12.7, None)], &two_litres()).unwrap();
        assert!(found.surplus_pct().unwrap().abs() < 0.5, "{found:?}");
    }

    #[test]
    fn a_meter_that_tells_too_little_is_believed_to_be_low() {
        let low = Breathing::new(&[cruising(9.5, None)], &two_litres()).unwrap();
        let wrong = Prediction {
            metered_log: ByRegion::from_fn(|_| 0.75_f64.ln()),
            ..Prediction::default()
        };
        let for_the_meter = low.under(&wrong) - low.under(&Prediction::default());
        assert!(for_the_meter > 2.0, "{for_the_meter}");
    }

    /// 12.7 g/s at 2000 rpm is 0.762 g a cycle; at 32.2 % of 1.184 g a litre that is 2.0 L.
    #[test]
    fn absolute_load_tells_the_displacement() {
        let found = Breathing::new(&[cruising(12.7, Some(32.2))], &Vehicle::default()).unwrap();
        assert!(found.surplus_pct().unwrap().abs() < 1.0);
        assert!(Breathing::new(&[cruising(12.7, None)], &Vehicle::default()).is_none());
    }
}
