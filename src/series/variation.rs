//! How far the fuel trim of one unchanged, healthy car varies by itself: the table of variance components for the
//! standard error of a mean, the comparison of two sides and the probabilities of causes.
//!
//! Standard deviations of y = ln(1 + total fuel trim), so that 0.01 is one point. Source, where no other is given: 129
//! trips (41.5 h) of one healthy four-cylinder car. A region's mean differs by 2.0 points from trip to trip, everyday
//! refuelling included, and by 1.4 points without the steps of refuelling; idle differs from cruise by 1.1 points
//! within a trip. They are one car's figures: how cars differ from each other is in the judgement's `healthy` table.

use std::f64::consts::SQRT_2;

/// Standard deviation shared by all trips that are close in time, as a logarithm.
pub const PERIOD: f64 = 0.009;

/// Standard deviation of one trip, all regions alike, everyday refuelling included, as a logarithm: the rest of 2.0
/// points without [`PERIOD`], [`REGION`] and [`INSIDE`], √(4.0 − 0.8 − 0.6 − 0.6).
pub const TRIP: f64 = 0.014;

/// Standard deviation of one trip, all regions alike, without a change of fuel between trips, as a logarithm: 1.4
/// points without [`PERIOD`] and [`REGION`], in addition to the errors within a trip, which is the safe side: √(1.96 −
/// 0.81 − 0.61).
pub const TRIP_ON_ONE_TANK: f64 = 0.0073;

/// Standard deviation of the step at one everyday refuelling, as a logarithm: √(2.0² − 1.4²).
pub const REFUELLING: f64 = 0.014;

/// Standard deviation of one region within one trip, besides [`TRIP`], as a logarithm: 1.1 points for the difference of
/// two regions, over √2.
pub const REGION: f64 = 0.0078;

/// Standard error of a region's mean within a trip of usual length, as a logarithm.
pub const INSIDE: f64 = 0.0079;

/// Standard deviation of the slow variation of the trim around its level during a trip, as a logarithm. Values from 0.6
/// points over 1 minute to 1.2 over 10 are about as probable on ten of the car's logs; halves of ten trips differ as
/// this one says.
pub const WANDER: f64 = 0.008;
/// Time constant of the memory of the slow variation [`WANDER`], s.
pub const WANDER_S: f64 = 300.0;

/// Standard deviation of one bank within one trip, as a logarithm.
pub const ONE_BANK_TRIP: f64 = BANKS_TRIP / SQRT_2;

/// Standard deviation of the difference of two banks that all trips close in time share, as a logarithm: smaller than
/// for one bank, as fuel, weather and MAF sensor cancel (assumed; no car was measured).
pub const BANKS_PERIOD: f64 = 0.002;
/// Standard deviation of the difference of two banks from trip to trip, as a logarithm (assumed; no car was measured).
pub const BANKS_TRIP: f64 = 0.004;
/// Standard deviation of the difference of two banks from region to region within a trip, as a logarithm (assumed; no
/// car was measured).
pub const BANKS_REGION: f64 = 0.003;
