//! Where the physics of an engine and the ways of its controller are not the same from make to make: one number each.
//!
//! Textbooks give ranges rather than values for most of these; [`Nature::USUAL`] is a middle of the road (common
//! practice), and a bench that wants to be an unkind examiner draws its cars from the whole ranges.

use rand::RngExt;
use rand_distr::StandardNormal;
use rand_pcg::Pcg64Mcg;

/// What differs between engines that have the same drawing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nature {
    /// Parts as made and as aged.
    pub parts: Parts,
    /// How faults act.
    pub faults: FaultPhysics,
    /// How the controller trims and learns.
    pub trimming: Trimming,
    /// When the controller purges the fuel tank's vapours.
    pub purging: Purging,
    /// What there is to purge.
    pub canister: CanisterNature,
    /// How the fuel rail is regulated and its pressure reported.
    pub rail: RailNature,
    /// How the fuel trim of a healthy car varies.
    pub wander: WanderSizes,
}

/// Parts as made and as aged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parts {
    /// Volumetric efficiency against the usual one; the controller of the make knows it.
    pub breathing: f64,
    /// Spread of flow between healthy injectors, as a share.
    pub injector_spread: f64,
    /// Spread of the opening time of the injectors, ms.
    pub opening_spread_ms: f64,
    /// Error of the MAF sensor from age, as a share.
    pub maf_error: f64,
    /// See `maf_error`.
    pub maf_slope: f64,
    /// Spread of the ratio at which a bank's oxygen sensor switches, as a share.
    pub sensor_spread: f64,
    /// Spread of the healthy car's fuel trim over flow, as a multiple of the usual one.
    pub curve_spread: f64,
    /// Drop of the healthy car's fuel trim at a hard pull (natural logarithm).
    pub curve_fall: f64,
    /// Share of firings that fail on a healthy cylinder.
    pub healthy_failing: f64,
}

/// How faults act where textbooks leave room.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FaultPhysics {
    /// Share of a misfired charge's fuel that still uses up oxygen at the sensor.
    pub burnt_at_sensor: f64,
    /// A restriction's loss grows with this power as the charge falls: openings too short to fill a dirty seat.
    pub restriction_power: f64,
    /// Lambda (air–fuel ratio over stoichiometric) at which half of the firings fail at idle.
    pub lean_limit: f64,
    /// Rise of `lean_limit`, in lambda, for a dense charge.
    pub lean_rise: f64,
    /// Power of the load with which a weak spark fails.
    pub spark_power: f64,
    /// Share of firings that fail at idle with all compression gone; 0 for a loss that never misfires.
    pub compression_failing: f64,
    /// Engine speed over which these misfires leave, rpm.
    pub compression_rpm: f64,
    /// Power of the load with which misfires without a pattern come.
    pub random_power: f64,
    /// How unevenly such misfires and dirt are spread over the cylinders: from this share less to this share more.
    pub unevenness: f64,
    /// Which cylinder of a bank has least of both, from 0.
    pub least_first: usize,
    /// Share of a pressure loss that grows with the fuel flow, 0 to 1.
    pub pump_growth: f64,
    /// Power of the fuel flow with which that share of a pressure loss grows.
    pub pump_power: f64,
    /// Part of a MAF sensor's fault that grows with the logarithm of the flow.
    pub maf_growth: f64,
    /// Power of the nozzle law of an intake leak: above 1 for a gap that closes as the vacuum fades.
    pub leak_power: f64,
    /// Share of a leak at one bank's runners that this bank breathes itself.
    pub own_leak_share: f64,
    /// Power of the nozzle law with which a drip follows the vacuum; 0 for the same drip always.
    pub drip_power: f64,
    /// Power with which false air in the exhaust fades as the flow grows.
    pub exhaust_leak_power: f64,
    /// Power of the flow with which a blocked exhaust takes air.
    pub blocked_power: f64,
    /// Air flow per litre of displacement at which a blocked exhaust takes its stated share, g/s/L.
    pub blocked_flow: f64,
    /// Power of the nozzle law of a purge valve.
    pub purge_power: f64,
    /// Whether a purge valve that does not shut hangs, so that no command moves it; otherwise it still opens further.
    pub purge_hangs: bool,
    /// How far such a valve stands open, 0 to 1.
    pub purge_stands_open: f64,
    /// Air that comes through the valve, as a ratio to the vapour's fuel, both expressed as air.
    pub purge_air: f64,
}

/// The charge of the charcoal canister: vapour as a ratio to its stated size is `fed + held` in the beginning and `fed`
/// in the end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CanisterNature {
    /// What the tank makes all the time.
    pub fed: f64,
    /// What the charcoal holds when the engine is started.
    pub held: f64,
    /// Seconds of full vacuum on a valve wide open after which a third of that is left.
    pub empties_s: f64,
    /// The vapour on an average of the trips.
    pub on_average: f64,
}

/// How the rail of a port injection is regulated, and how right its sensor is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RailNature {
    /// What holds the pressure.
    pub regulator: Regulator,
    /// Where in the stated range it is set, 0 to 1.
    pub set: f64,
    /// Ratio of the sensor's reading to the truth.
    pub sensor_gain: f64,
}

/// What holds the pressure in a rail.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Regulator {
    /// At the tank: the gauge stands still.
    Fixed,
    /// At the rail, led by the manifold's vacuum: the pressure across the injectors stands still.
    FollowsManifold,
    /// The controller, by the pump's speed: somewhat more under load.
    Moved,
}

/// How the controller trims and learns.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trimming {
    /// Where trims stop, as a share.
    pub stop: f64,
    /// Jump of the short trim when the sensor crosses.
    pub jump: f64,
    /// Ramp of the short trim during one transport delay.
    pub ramp: f64,
    /// Time constant of learning, s.
    pub learn_s: f64,
}

/// When the controller purges.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Purging {
    /// Valve at idle, 0 to 1.
    pub idle: f64,
    /// Valve elsewhere, 0 to 1.
    pub driving: f64,
    /// Pause of the purge in every period, to learn trims without vapour, s.
    pub pause_s: f64,
    /// Period of the purge, pause included, s.
    pub period_s: f64,
    /// Most vapour there is, as a share of the fuel at warm idle.
    pub most_vapour: f64,
}

impl Nature {
    /// The middle of the road.
    pub const USUAL: Self = Self {
        parts: Parts {
            breathing: 1.0,
            injector_spread: 0.017,
            opening_spread_ms: 0.01,
            maf_error: 0.0,
            maf_slope: 0.0,
            sensor_spread: 0.0,
            curve_spread: 1.0,
            curve_fall: 0.020,
            healthy_failing: 2.5e-5,
        },
        faults: FaultPhysics {
            burnt_at_sensor: 0.25,
            restriction_power: 0.0,
            lean_limit: 1.42,
            lean_rise: 0.22,
            spark_power: 1.0,
            compression_failing: 0.4,
            compression_rpm: 700.0,
            random_power: 0.0,
            unevenness: 0.3,
            least_first: 0,
            pump_growth: 0.3,
            pump_power: 1.0,
            maf_growth: 0.0,
            leak_power: 1.0,
            own_leak_share: 0.9,
            drip_power: 0.0,
            exhaust_leak_power: 1.3,
            blocked_power: 2.0,
            blocked_flow: 15.0,
            purge_power: 1.0,
            purge_hangs: true,
            purge_stands_open: 0.3,
            purge_air: 0.2,
        },
        trimming: Trimming {
            stop: 0.25,
            jump: 0.012,
            ramp: 0.009,
            learn_s: 40.0,
        },
        purging: Purging {
            idle: 0.12,
            driving: 0.4,
            pause_s: 45.0,
            period_s: 240.0,
            most_vapour: 0.10,
        },
        canister: CanisterNature {
            fed: 0.6,
            held: 0.8,
            empties_s: 150.0,
            on_average: 1.0,
        },
        rail: RailNature {
            regulator: Regulator::Fixed,
            set: 0.5,
            sensor_gain: 1.0,
        },
        wander: WanderSizes::USUAL,
    };
}

impl FaultPhysics {
    /// What one cylinder of a bank has of a fault that is spread unevenly, against the mean.
    pub fn uneven(&self, index: usize, of: usize) -> f64 {
        let place = (index + of - self.least_first % of.max(1)) % of.max(1);
        let middle = (of as f64 - 1.0) / 2.0;
        1.0 + self.unevenness * (place as f64 - middle) / middle.max(1.0)
    }
}

/// A normal deviate of a spread.
pub fn normal(random: &mut Pcg64Mcg, spread: f64) -> f64 {
    spread * random.sample::<f64, _>(StandardNormal)
}

/// Spreads of all that wanders.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WanderSizes {
    /// What trips of one tankful share.
    pub period: f64,
    /// One trip.
    pub trip: f64,
    /// Idle against cruise on one trip.
    pub contrast: f64,
    /// Drift inside a trip.
    pub drift: f64,
    /// Drift of one bank alone.
    pub bank_drift: f64,
    /// What the first minutes on a warm engine differ from the rest of the trip by, and how fast that fades, s.
    pub settling: (f64, f64),
    /// How often a tankful is of quite another fuel, and the spread of what that changes.
    pub refuel: (f64, f64),
}

impl WanderSizes {
    /// As the one real car wanders.
    pub const USUAL: Self = Self {
        period: 0.011,
        trip: 0.014,
        contrast: 0.0095,
        drift: 0.010,
        bank_drift: 0.002,
        settling: (0.015, 240.0),
        refuel: (0.0, 0.0),
    };
}
