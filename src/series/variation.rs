//! How far the fuel trim of one unchanged, healthy car varies by itself: the table of variance components that the doubt of a
//! mean, the comparison of two sides and the probabilities of causes all use.
//!
//! Standard deviations of y = ln(1 + total fuel trim), so that 0.01 is one point. Source, where no other stands beside it: 129
//! trips (41.5 h) of one healthy four-cylinder car. A region's mean differs by 2.0 points from trip to trip, everyday
//! refuelling included, and by 1.4 points without the steps of refuelling; idle differs from cruise by 1.1 points inside a
//! trip. They are one car's figures: how cars differ from each other stands with the judgement.

use std::f64::consts::SQRT_2;

/// All trips that are close in time share this.
pub const PERIOD: f64 = 0.009;

/// One trip, all regions alike, everyday refuelling included: what is left of 2.0 points without [`PERIOD`], [`REGION`] and
/// [`INSIDE`], √(4.0 − 0.8 − 0.6 − 0.6).
pub const TRIP: f64 = 0.014;

/// One trip, all regions alike, where no trip brought another fuel: 1.4 points without [`PERIOD`] and [`REGION`], taken as
/// lying beside the errors inside a trip, which is the safe side: √(1.96 − 0.81 − 0.61).
pub const TRIP_ON_ONE_TANK: f64 = 0.0073;

/// The step of one everyday refuelling: √(2.0² − 1.4²).
pub const REFUELLING: f64 = 0.014;

/// One trip in one region beside that: 1.1 points for the difference of two regions, over √2.
pub const REGION: f64 = 0.0078;

/// Standard error inside a trip of usual length.
pub const INSIDE: f64 = 0.0079;

/// The slow wander of the trim around its level in the course of a trip, and the time constant of its memory, s: with 0.6 to
/// 1.2 points over 1 to 10 minutes ten of the car's logs are as probable. The halves of ten trips differ as these say.
pub const WANDER: f64 = 0.008;
/// See [`WANDER`].
pub const WANDER_S: f64 = 300.0;

/// One bank in one trip beside the other.
pub const ONE_BANK_TRIP: f64 = BANKS_TRIP / SQRT_2;

/// The difference of two banks varies less, as fuel, weather and MAF sensor cancel; no car was measured (assumed). All trips
/// close in time, one trip, one trip in one region.
pub const BANKS_PERIOD: f64 = 0.002;
/// See [`BANKS_PERIOD`].
pub const BANKS_TRIP: f64 = 0.004;
/// See [`BANKS_PERIOD`].
pub const BANKS_REGION: f64 = 0.003;
