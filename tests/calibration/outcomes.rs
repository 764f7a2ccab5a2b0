//! How checks come out on cars whose fault is known: a table of its own, apart from the one that the advice is made with.
//!
//! Common practice: a check finds a plain fault nine times in ten and a faint one about every other time, and now and then
//! it finds what is not there. Outcomes are in the order of `checks.toml`.

use pintle::cause::Cause;

use Cause::{
    AirMeterHigh, AirMeterLow, CompressionLow, ExhaustBlockedOneBank, ExhaustLeak, FuelBlend,
    FuelPressureHigh, FuelPressureLow, IgnitionWeak, InjectorDead, InjectorLeaking,
    InjectorRestricted, InjectorsRestrictedSeveral, IntakeLeak, IntakeLeakOneBank, MisfireRandom,
    NoneFound, PurgeStuck,
};

/// What fades as the engine breathes more.
const FADING: [Cause; 5] = [
    IntakeLeak,
    IntakeLeakOneBank,
    ExhaustLeak,
    PurgeStuck,
    InjectorLeaking,
];
/// What stays.
const STAYING: [Cause; 7] = [
    InjectorRestricted,
    InjectorsRestrictedSeveral,
    AirMeterLow,
    AirMeterHigh,
    FuelPressureLow,
    FuelPressureHigh,
    FuelBlend,
];

/// Chance of each outcome of a check when `truth` is the fault, plain or faint; `None` for an unknown check.
pub fn chances(check: &str, truth: Cause, plain: bool) -> Option<Vec<f64>> {
    let is = |causes: &[Cause]| causes.contains(&truth);
    let sure = if plain { 0.90 } else { 0.50 };
    // The telling outcome is found on the causes that it is about, now and then on others.
    let two = |causes: &[Cause], by_mistake: f64| {
        let found = if is(causes) { sure } else { by_mistake };
        vec![found, 1.0 - found]
    };
    let shape = |unclear: f64| match () {
        () if is(&FADING) => vec![
            sure * (1.0 - unclear),
            0.08,
            1.0 - sure * (1.0 - unclear) - 0.08,
        ],
        () if is(&STAYING) => vec![0.06, sure * (1.0 - unclear), 0.94 - sure * (1.0 - unclear)],
        () => vec![0.06, 0.08, 0.86],
    };
    Some(match check {
        "hold_2500" => shape(0.15),
        "record_cruise" => shape(0.08),
        "record_idle" => match truth {
            InjectorDead => vec![0.02, 0.95, 0.03],
            CompressionLow => vec![0.05, 0.7 * sure, 0.95 - 0.7 * sure],
            InjectorRestricted => vec![0.08, 0.5 * sure, 0.92 - 0.5 * sure],
            _ if is(&FADING) => vec![0.92 * sure, 0.02, 0.98 - 0.92 * sure],
            _ => vec![0.08, 0.03, 0.89],
        },
        "load_test" => match truth {
            FuelPressureLow => vec![0.6 * sure, 0.03, 0.97 - 0.6 * sure],
            ExhaustBlockedOneBank => vec![0.85 * sure, 0.03, 0.97 - 0.85 * sure],
            AirMeterLow => vec![0.4 * sure, 0.02, 0.98 - 0.4 * sure],
            IgnitionWeak => vec![0.05, 0.8 * sure, 0.95 - 0.8 * sure],
            _ => vec![0.06, 0.03, 0.91],
        },
        "swap_coil" => match truth {
            IgnitionWeak => vec![0.85 * sure, 0.08, 0.92 - 0.85 * sure],
            InjectorDead => vec![0.01, 0.95, 0.04],
            InjectorRestricted | CompressionLow => vec![0.02, 0.75 * sure, 0.98 - 0.75 * sure],
            _ => vec![0.02, 0.18, 0.80],
        },
        "coil_resistance" => two(&[], if truth == InjectorDead { 0.65 } else { 0.015 }),
        "click_and_pulse" => two(&[], if truth == InjectorDead { 0.9 } else { 0.03 }),
        "power_balance" => match truth {
            InjectorDead => vec![0.97, 0.03],
            CompressionLow | InjectorRestricted | IgnitionWeak => {
                vec![0.75 * sure, 1.0 - 0.75 * sure]
            }
            _ => vec![0.06, 0.94],
        },
        "rail_pressure" => match truth {
            FuelPressureLow => vec![0.95, 0.01, 0.02, 0.02],
            FuelPressureHigh => vec![0.01, 0.93, 0.02, 0.04],
            InjectorLeaking => vec![0.02, 0.01, 0.85 * sure, 0.97 - 0.85 * sure],
            _ => vec![0.02, 0.01, 0.09, 0.88],
        },
        "pressure_drop" => match truth {
            InjectorDead => vec![0.94, 0.02, 0.04],
            InjectorRestricted => vec![0.95 * sure, 0.04, 0.96 - 0.95 * sure],
            InjectorsRestrictedSeveral => vec![0.3 * sure, 0.5 * sure, 1.0 - 0.8 * sure],
            InjectorLeaking => vec![0.08, 0.12, 0.80],
            _ => vec![0.04, 0.05, 0.91],
        },
        "spray_intake" => {
            let leaks = is(&[IntakeLeak, IntakeLeakOneBank]);
            two(&[], if leaks { 0.8 * sure } else { 0.06 })
        }
        "unplug_air_meter" => {
            let maf = is(&[AirMeterLow, AirMeterHigh]);
            two(&[], if maf { 0.65 * sure } else { 0.08 })
        }
        "swap_injector" => match truth {
            InjectorRestricted | InjectorLeaking => {
                vec![0.85 * sure, 0.08, 0.92 - 0.85 * sure]
            }
            InjectorDead => vec![0.7, 0.28, 0.02],
            InjectorsRestrictedSeveral => vec![0.3 * sure, 0.25, 0.75 - 0.3 * sure],
            IgnitionWeak | CompressionLow => vec![0.02, 0.9 * sure, 0.98 - 0.9 * sure],
            _ => vec![0.03, 0.3, 0.67],
        },
        "flow_bench" => match truth {
            InjectorRestricted => vec![0.97 * sure, 0.03, 0.01, 0.96 - 0.97 * sure],
            InjectorsRestrictedSeveral => vec![0.06, 0.93 * sure, 0.01, 0.93 - 0.93 * sure],
            InjectorDead => vec![0.8, 0.02, 0.01, 0.17],
            InjectorLeaking => vec![0.02, 0.03, 0.95 * sure, 0.95 - 0.95 * sure],
            _ => vec![0.03, 0.04, 0.02, 0.91],
        },
        "counters_again" => match truth {
            InjectorDead => vec![0.98, 0.01, 0.01],
            IgnitionWeak | CompressionLow => vec![0.85 * sure, 0.05, 0.95 - 0.85 * sure],
            InjectorRestricted => vec![0.6 * sure, 0.04, 0.96 - 0.6 * sure],
            InjectorLeaking | InjectorsRestrictedSeveral => {
                vec![0.25 * sure, 0.15, 0.85 - 0.25 * sure]
            }
            MisfireRandom => vec![0.05, 0.85 * sure, 0.95 - 0.85 * sure],
            _ => vec![0.04, 0.08, 0.88],
        },
        "smoke_intake" => two(&[IntakeLeak, IntakeLeakOneBank], 0.05),
        "pinch_purge" => two(&[PurgeStuck], 0.04),
        "air_meter_at_idle" => match truth {
            AirMeterLow => vec![0.8 * sure, 0.02, 0.98 - 0.8 * sure],
            AirMeterHigh => vec![0.03, 0.75 * sure, 0.97 - 0.75 * sure],
            _ => vec![0.09, 0.04, 0.87],
        },
        "compression" => match truth {
            CompressionLow => vec![
                if plain { 0.97 } else { 0.8 },
                if plain { 0.03 } else { 0.2 },
            ],
            _ => vec![0.03, 0.97],
        },
        "exhaust_leak_check" => two(&[ExhaustLeak], 0.05),
        "back_pressure" => two(&[ExhaustBlockedOneBank], 0.03),
        "fuel_sample" => two(&[], if truth == FuelBlend { 0.88 } else { 0.07 }),
        "another_trip" => match truth {
            NoneFound => vec![0.55, 0.45],
            FuelBlend => vec![0.6, 0.4],
            _ => vec![
                if plain { 0.93 } else { 0.8 },
                if plain { 0.07 } else { 0.2 },
            ],
        },
        _ => return None,
    })
}
