//! Air flow that the MAF sensor reports against the air that the cylinders can take.
//!
//! An engine is an air pump: the air that it takes follows from displacement, speed, manifold pressure and charge
//! temperature, whatever happens to the fuel. So a MAF sensor that reads wrong, or unmetered air behind it, can be told
//! from missing fuel. A car that meters by manifold pressure computes its air in the same way and proves nothing.

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
    full_load::FullLoadEvidence,
};

/// Gas constant of air, kPa·L/(g·K).
const GAS_CONSTANT: f64 = 0.287;
/// Air per litre of displacement at 100 % absolute load, g (SAE J1979, PID 43).
const FULL_G_PER_L: f64 = 1.184;
/// Seconds per minute times two, as a cylinder takes air once in two revolutions.
const DRAWS: f64 = 120.0;
/// Volumetric efficiency, referred to the manifold's density, of a cylinder without residual gas (common practice knows
/// 0.75 to 0.95 on sound engines).
const BREATHES: f64 = 0.87;
/// Share of residual gas at a manifold pressure equal to the barometer, from which the air falls as the manifold
/// empties: 1 / (γ (r − 1)) with γ = 1.35 and compression ratio r = 10.5 (Heywood, *Internal Combustion Engine
/// Fundamentals*, chapter 6, from memory).
const KEPT_BACK: f64 = 1.0 / (1.35 * 9.5);
/// Temperature of the charge above the intake air, K (common practice).
const CHARGE_WARMER_K: f64 = 20.0;
/// Barometric pressure where none is reported, kPa: sea level.
const USUAL_BAROMETER_KPA: f64 = 100.0;
/// Intake air temperature where none is reported, °C: a warm engine bay (common practice).
const USUAL_INTAKE_C: f64 = 30.0;
/// Standard deviation between engines of the volumetric efficiency, the same in all regions (cams, ports, age of the
/// MAF sensor), as a logarithm: common practice knows 0.75 to 0.95 on sound engines.
const ENGINE: f64 = 0.09;
/// Standard deviation of the volumetric efficiency from region to region (variable valve timing, exhaust gas
/// recirculation), as a logarithm (assumed).
const ENGINE_REGION: f64 = 0.045;
/// Air flow per litre of displacement that a warm engine needs without load, g/s, and the engine speed, rpm; used where
/// no manifold pressure was recorded. 1.45 g/s at 750 rpm (1.1 to 1.9 being usual with gear, fan and compressor) and
/// 3.8 at 2500 rpm (common practice).
const AT_IDLE: (f64, f64) = (1.45, 750.0);
/// Air of a warm engine at 2500 rpm without load (see [`AT_IDLE`]).
const AT_2500_RPM: (f64, f64) = (3.8, 2500.0);
/// Standard deviation between engines of the air needed without load, the same in all regions, as a logarithm (from the
/// usual 1.1 to 1.9 g/s per litre).
const NEEDS: f64 = 0.20;
/// Standard deviation of the air needed without load from region to region, as a logarithm (assumed).
const NEEDS_REGION: f64 = 0.12;
/// Seconds of recording from which a region counts (assumed).
const LEAST_S: f64 = 20.0;

/// Evidence from the air flow, where it was recorded together with a known displacement, or where full load was
/// recorded.
pub fn read(sources: &Sources<'_>) -> Option<Piece> {
    let breathing = BreathingEvidence::new(sources.summaries, sources.vehicle)?;
    let (surplus_pct, full_load_pct) = (breathing.surplus_pct(), breathing.full_load_pct());
    let fact = Fact::Air {
        surplus_pct,
        full_load_pct,
    };
    let is_worth_reporting = surplus_pct.or(full_load_pct).is_some();
    Some(Piece::new(breathing, is_worth_reporting.then_some(fact)))
}

impl Evidence for BreathingEvidence {
    fn log_likelihood(&self, case: &Case<'_>) -> f64 {
        self.under(case.prediction)
    }
}

/// Ratio of metered air to the air that the engine should take, as logarithms by region, and the load reported at full
/// throttle.
#[derive(Debug, Clone, Copy)]
pub struct BreathingEvidence {
    surplus_log: ByRegion<Option<f64>>,
    full_load: Option<FullLoadEvidence>,
    engine: f64,
    engine_region: f64,
}

impl BreathingEvidence {
    /// Combines the captures; `None` where neither full load was reported nor an air flow with a known displacement.
    pub fn new(summaries: &[Summary], vehicle: &Vehicle) -> Option<Self> {
        let by_pressure = |summary: &Summary, row: &Operation, litres: f64| {
            let barometer = summary.facts.barometer_kpa.unwrap_or(USUAL_BAROMETER_KPA);
            let intake_c = summary.facts.intake_air_c.unwrap_or(USUAL_INTAKE_C);
            let manifold_ratio = (row.manifold_kpa? / barometer).clamp(0.1, 1.1);
            let breathes = BREATHES * (1.0 - KEPT_BACK * (1.0 / manifold_ratio - 1.0));
            let charge_k = 273.15 + intake_c + CHARGE_WARMER_K;
            let density = manifold_ratio * barometer / (GAS_CONSTANT * charge_k);
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
        let full_load = FullLoadEvidence::new(summaries);
        (surplus_log != none || full_load.is_some()).then_some(Self {
            surplus_log,
            full_load,
            engine,
            engine_region,
        })
    }

    /// What the MAF sensor reads too much, percent, mean over the regions; `None` where only full load was reported.
    pub fn surplus_pct(&self) -> Option<f64> {
        let known: Vec<f64> = self.surplus_log.into_values().flatten().collect();
        let mean = known.iter().sum::<f64>() / known.len() as f64;
        (!known.is_empty()).then(|| 100.0 * mean.exp_m1())
    }

    /// The highest load reported at full throttle, percent; `None` where none was.
    pub fn full_load_pct(&self) -> Option<f64> {
        self.full_load.map(|load| load.pct())
    }

    /// Log-likelihood of a prediction, up to a constant common to all predictions.
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

/// Ratio of metered air to `expected`, weighted by seconds over the captures.
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
            let reported = row.air_g_per_s.filter(|air| *air > 0.0)?;
            let expected = expected(summary, row, litres).filter(|air| *air > 0.0)?;
            Some((row.seconds, (reported / expected).ln()))
        });
        let (seconds, sum) = logs.fold((0.0, 0.0), |(seconds, sum), (more, log)| {
            (seconds + more, sum + more * log)
        });
        (seconds >= LEAST_S).then(|| sum / seconds)
    })
}

/// Displacement in litres from absolute load and air flow, which both report the metered air; `None` where either is
/// missing.
fn displacement_l(summaries: &[Summary]) -> Option<f64> {
    let rows = summaries.iter().flat_map(|summary| &summary.operation);
    let reported = rows.filter_map(|row| {
        let share = row.absolute_load_pct.filter(|load| *load > 5.0)? / 100.0;
        let per_cycle_g = row.air_g_per_s? * DRAWS / row.engine_rpm;
        Some((row.seconds, per_cycle_g / (FULL_G_PER_L * share)))
    });
    let (seconds, sum) = reported.fold((0.0, 0.0), |(seconds, sum), (more, litres)| {
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
        let found = BreathingEvidence::new(&[cruising(12.7, None)], &two_litres()).unwrap();
        assert!(found.surplus_pct().unwrap().abs() < 0.5, "{found:?}");
    }

    #[test]
    fn a_maf_sensor_that_reads_too_little_is_believed_to_be_low() {
        let low = BreathingEvidence::new(&[cruising(9.5, None)], &two_litres()).unwrap();
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
        let found =
            BreathingEvidence::new(&[cruising(12.7, Some(32.2))], &Vehicle::default()).unwrap();
        assert!(found.surplus_pct().unwrap().abs() < 1.0);
        assert!(BreathingEvidence::new(&[cruising(12.7, None)], &Vehicle::default()).is_none());
    }
}
