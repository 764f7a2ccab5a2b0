//! What a healthy car does by itself: its correction is not zero, not the same everywhere, not the
//! same tomorrow.
//!
//! Standard deviations of y = ln C (0.01 is one point). Where a source is a "real car", it is 129
//! trips (41.5 h) of one healthy four-cylinder; cars differ from each other by more than one car's
//! trips do, which only common practice tells: total trims within 5 % are ideal, within 8 % usual,
//! within 10 % acceptable.

use enum_map::EnumMap;

use crate::series::label::region::ByRegion;

/// Mean by region: the real car's slope, +1 at light cruise, −1 to −2 at idle, −4 to −7 at high
/// load, drawn half-way towards none at load, as other cars need not have it.
pub const MEAN: ByRegion<f64> = EnumMap::from_array([-0.010, 0.0, 0.010, -0.030]);
/// How far cars differ from that slope, by region.
pub const CAR_REGION: ByRegion<f64> = EnumMap::from_array([0.015, 0.014, 0.012, 0.024]);
/// How far cars differ in level, so that with the trips a healthy car stays within 6 to 7 % in 95
/// of 100 cases.
pub const CAR_LEVEL: f64 = 0.027;
/// How far a bank of a healthy engine stands from the other by itself: clean injectors keep within 5 % of their flow (limit
/// of ASTM D5598 in 40 CFR 80.165), a standard deviation of 2.5 to 3 %, which the mean of three or four of them halves;
/// the sensor adds some 0.6 points.
pub const BANK: f64 = 0.016;
/// The same by region.
pub const BANK_REGION: f64 = 0.005;

/// What the first minutes of a warm engine differ from the rest of the trip by, and how fast that fades, s (real car: 1.5 to 2
/// points over 4 minutes, mostly upwards; so much more because others purge early).
pub const SETTLING: f64 = 0.02;
pub const SETTLES_S: f64 = 240.0;

/// Misfires of a healthy cylinder for each revolution of a mixed drive, with their weights: cars and their counters differ,
/// the cylinders of one car less (common practice: healthy engines show none to a few a trip, one cylinder in some hundred
/// more than 1 in 1000 revolutions; regulation calls 20 of all cylinders in 1000 revolutions too much).
pub const MISFIRE_RATES: [(f64, f64); 6] = [
    (0.35, 0.002e-3),
    (0.24, 0.02e-3),
    (0.20, 0.06e-3),
    (0.13, 0.15e-3),
    (0.055, 0.30e-3),
    (0.025, 0.70e-3),
];
/// Their mean.
pub const MISFIRES_PER_REV: f64 = 0.071e-3;
/// How much oftener than elsewhere they come in each region, with weights: mostly at warm idle, where least is burnt and most
/// burnt gas is left in the charge, on a few cars where the spark has most to do (common practice; the numbers are assumed).
pub const MISFIRES_WHERE: [(f64, ByRegion<f64>); 4] = [
    (0.38, EnumMap::from_array([1.0, 1.0, 1.0, 1.0])),
    (0.33, EnumMap::from_array([4.0, 1.0, 1.0, 1.0])),
    (0.22, EnumMap::from_array([15.0, 1.0, 1.0, 1.0])),
    (0.07, EnumMap::from_array([1.0, 1.0, 1.0, 30.0])),
];
/// Share of the revolutions of a mixed drive that are turned in each region (common practice).
pub const MIXED_DRIVE: ByRegion<f64> = EnumMap::from_array([0.15, 0.05, 0.65, 0.15]);
/// The shape of a gamma distribution of a cylinder's own rate around the car's.
pub const MISFIRE_SHAPE: f64 = 1.5;
/// How often a healthy cylinder stumbles all the same while it is watched, at a start, a gear change or in a puddle, and a
/// number of misfires that this seldom exceeds; fewer are the likelier (common practice; the numbers are assumed).
pub const STUMBLING: f64 = 0.05;
pub const STUMBLES: f64 = 12.0;
/// Shares of failing firings below this are lost in what a healthy cylinder does (no more than its mean; it fires every second
/// revolution).
pub const NEGLIGIBLE_FAILING: f64 = 2.0 * MISFIRES_PER_REV;
