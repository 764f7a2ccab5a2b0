//! What a healthy car does by itself: its fuel trim is not zero, not the same everywhere, and not the same tomorrow.
//!
//! Standard deviations of y = ln C (0.01 is one point). Where a source is a "real car", it is 129 trips (41.5 h) of one
//! healthy four-cylinder. Cars differ from each other by more than the trips of one car do; for that there is only
//! common practice: total trims within 5 % are ideal, within 8 % usual, within 10 % acceptable.

use enum_map::EnumMap;

use crate::series::label::region::ByRegion;

/// Mean total fuel trim of a healthy car by region, as a logarithm: the real car's slope (+1 point at light cruise, −1
/// to −2 at idle, −4 to −7 at high load), halved towards zero at load, as other cars need not have it.
pub const MEAN: ByRegion<f64> = EnumMap::from_array([-0.010, 0.0, 0.010, -0.030]);
/// Standard deviation between healthy cars of a region's departure from [`MEAN`], as a logarithm. Assumed, at about the
/// size of the real car's own slope.
pub const CAR_REGION: ByRegion<f64> = EnumMap::from_array([0.015, 0.014, 0.012, 0.024]);
/// Standard deviation between healthy cars of the fuel trim's level, as a logarithm. Chosen so that, with the variation
/// between trips, a healthy car stays within 6 to 7 % in 95 of 100 cases (the trade calls 5 % ideal, 8 % usual, 10 %
/// acceptable). The odds of causes that move all regions alike depend on it directly.
pub const CAR_LEVEL: f64 = 0.027;
/// Standard deviation of the fuel trim difference between the banks of a healthy engine, as a logarithm: clean
/// injectors keep within 5 % of their flow (limit of ASTM D5598 in 40 CFR 80.165), a standard deviation of 2.5 to 3 %,
/// which the mean of three or four of them halves; the oxygen sensor adds some 0.6 points.
pub const BANK: f64 = 0.016;
/// Standard deviation, region by region, of the fuel trim difference between the banks of a healthy engine around its
/// mean difference, as a logarithm (assumed).
pub const BANK_REGION: f64 = 0.005;

/// Standard deviation of the difference between the first minutes of a warm engine and the rest of the trip, as a
/// logarithm (real car: 1.5 to 2 points over 4 minutes, mostly upwards; slightly more here because other cars purge
/// early).
pub const SETTLING: f64 = 0.02;
/// Time constant with which the difference of the first minutes fades, s (real car: 4 minutes).
pub const SETTLES_S: f64 = 240.0;

/// Misfires of a healthy cylinder per revolution of a mixed drive, each rate with its weight: cars and their counters
/// differ, the cylinders of one car less (common practice: healthy engines show none to a few a trip, about one
/// cylinder in a hundred more than 1 per 1000 revolutions; the regulation calls 20 per 1000 revolutions of all
/// cylinders too many).
pub const MISFIRE_RATES: [(f64, f64); 6] = [
    (0.35, 0.002e-3),
    (0.24, 0.02e-3),
    (0.20, 0.06e-3),
    (0.13, 0.15e-3),
    (0.055, 0.30e-3),
    (0.025, 0.70e-3),
];
/// Mean of [`MISFIRE_RATES`], misfires per revolution.
pub const MISFIRES_PER_REV: f64 = 0.071e-3;
/// Misfire rate in each region as a multiple of the rate of a mixed drive, each pattern with its weight: mostly at warm
/// idle, where the charge is smallest and holds most burnt gas; on a few cars where the spark needs the highest voltage
/// (common practice; the numbers are assumed).
pub const MISFIRES_WHERE: [(f64, ByRegion<f64>); 4] = [
    (0.38, EnumMap::from_array([1.0, 1.0, 1.0, 1.0])),
    (0.33, EnumMap::from_array([4.0, 1.0, 1.0, 1.0])),
    (0.22, EnumMap::from_array([15.0, 1.0, 1.0, 1.0])),
    (0.07, EnumMap::from_array([1.0, 1.0, 1.0, 30.0])),
];
/// Share of the revolutions of a mixed drive that are turned in each region (common practice).
pub const MIXED_DRIVE: ByRegion<f64> = EnumMap::from_array([0.15, 0.05, 0.65, 0.15]);
/// Shape of the gamma distribution of a healthy cylinder's own misfire rate around the car's rate: at 1.5 the standard
/// deviation is 80 % of the mean (assumed; the larger the shape, the more a small difference between cylinders accuses
/// one of them).
pub const MISFIRE_SHAPE: f64 = 1.5;
/// Probability that a healthy cylinder misfires a few times while it is recorded: at a start, at a gear change, through
/// a puddle (common practice; the number is assumed).
pub const SPURIOUS: f64 = 0.05;
/// Number of misfires that such an episode of a healthy cylinder seldom exceeds; smaller numbers are more probable
/// (assumed).
pub const SPURIOUS_MISFIRES: f64 = 12.0;
/// Share of failing firings, 0 to 1, below which a cause cannot be told from a healthy cylinder: the mean healthy rate,
/// as a cylinder fires every second revolution.
pub const NEGLIGIBLE_FAILING: f64 = 2.0 * MISFIRES_PER_REV;
