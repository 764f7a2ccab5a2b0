//! Fuel that the injectors do not give, and fuel that is not what the controller expects.
//!
//! A purge valve that hangs open on an empty canister brings air instead, like any other leak into the
//! manifold; pinching the purge line parts the two.

use super::{Engine, Place, Prediction, Unknown, Variant, choked_share, intake_leak};

/// How vapour fades against the engine's air: exponent. Tank and hose, not only the valve, decide
/// how much vapour there is to draw (common practice).
pub const FADINGS: &[Variant] = &[(0.5, 1.0), (0.25, 0.7), (0.25, 1.3)];
/// Whether air flows (1) or vapour (0): a canister that is drawn on all the time is emptied within an
/// hour's driving, unless the tank is warm or freshly filled (common practice).
pub const AIR: &[Variant] = &[(0.7, 0.0), (0.3, 1.0)];

/// Whether a fuel that is another one was in the tank all the time (0), or came with the filling that was recorded (1), if
/// there was one (assumed: as often as not).
pub const WITH_FILLING: &[Variant] = &[(0.51, 0.0), (0.49, 1.0)];
/// How often a valve that does not shut does not open further either, so that nothing follows the command (common practice:
/// it hangs as often as dirt only keeps it from its seat).
const HANGS: f64 = 0.5;

/// Air that a millilitre of petrol and of ethanol burns, g: 14.7 × 0.745 and 9.0 × 0.789 (mass
/// ratios and densities as commonly tabled).
const PETROL_G_PER_ML: f64 = 14.7 * 0.745;
const ETHANOL_G_PER_ML: f64 = 9.0 * 0.789;
/// Ethanol in ordinary petrol, as a share of volume.
const USUAL_ETHANOL: f64 = 0.10;

/// A purge valve that does not shut: vapour of `size` against the engine's fuel at warm idle, or air
/// of `size` against its air, to all banks. It flows like any leak: choked at low manifold pressure, fading against the engine's
/// air.
pub fn purge(size: f64, unknown: Unknown, engine: Engine<'_>) -> Prediction {
    let fading = unknown.shape;
    if unknown.way > 0.0 {
        return Prediction {
            purge_hangs: HANGS,
            ..intake_leak::leak(Place::default(), size, fading, 1.0, engine)
        };
    }
    let idle_share = choked_share(engine.idle().filling).max(0.05);
    let mixture = engine.each(|_, point| {
        let flow = choked_share(point.filling) / idle_share;
        let against_air = (engine.idle().air / point.air.max(0.1)).powf(fading);
        let vapour = size * flow * against_air;
        -(vapour.min(0.9)).ln_1p()
    });
    Prediction {
        mixture,
        purge_hangs: HANGS,
        ..Prediction::default()
    }
}

/// Ethanol in the tank changed by `change` (a share of volume, below 0 for less): ethanol needs
/// more fuel for the same air, everywhere alike. Where it came with a filling that was recorded, the
/// corrections have it only from then on.
pub fn blend(change: f64, unknown: Unknown, engine: Engine<'_>) -> Prediction {
    let burns = |ethanol: f64| PETROL_G_PER_ML * (1.0 - ethanol) + ETHANOL_G_PER_ML * ethanol;
    // with less ethanol than usual in the tank before, a fall starts from more
    let before = USUAL_ETHANOL.max(-change).min(1.0);
    let needed = (burns(before) / burns((before + change).clamp(0.0, 1.0))).ln();
    let mut mixture = engine.each(|_, _| needed);
    let new_fuel = engine.new_fuel.filter(|_| unknown.way > 0.0);
    if let Some(shares) = new_fuel {
        for regions in &mut mixture {
            for (y, share) in regions.iter_mut().zip(shares) {
                *y *= share;
            }
        }
    }
    Prediction {
        mixture,
        ethanol_change: change,
        came_with_filling: new_fuel.map(|_| needed),
        follows_closely: true,
        ..Prediction::default()
    }
}
