//! The four kinds of operation in which fuel trims are averaged.

use enum_map::{Enum, EnumMap};
use serde::{Deserialize, Serialize};

use crate::series::timeline::{moment::Moment, quantity::Quantity};

/// A kind of operation.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Enum, Serialize, Deserialize,
)]
#[serde(rename_all = "snake_case")]
pub enum Region {
    /// Idling, warm, at a standstill.
    WarmIdle,
    /// About 2500 rpm without load, at a standstill.
    RaisedIdle,
    /// Driving with light load.
    LightCruise,
    /// Driving with high load.
    Loaded,
}

impl Region {
    /// Every region once.
    pub const ALL: [Self; 4] = [
        Self::WarmIdle,
        Self::RaisedIdle,
        Self::LightCruise,
        Self::Loaded,
    ];

    /// The identifier used in machine-readable output.
    pub const fn id(self) -> &'static str {
        match self {
            Self::WarmIdle => "warm_idle",
            Self::RaisedIdle => "raised_idle",
            Self::LightCruise => "light_cruise",
            Self::Loaded => "loaded",
        }
    }
}

impl Region {
    /// The region in a technician's words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::WarmIdle => "warm idle",
            Self::RaisedIdle => "2500 rpm",
            Self::LightCruise => "light cruise",
            Self::Loaded => "under load",
        }
    }

    /// The region with its preposition, in a technician's words.
    pub const fn at(self) -> &'static str {
        match self {
            Self::WarmIdle => "at warm idle",
            Self::RaisedIdle => "at 2500 rpm",
            Self::LightCruise => "at light cruise",
            Self::Loaded => "under load",
        }
    }
}

/// Vehicle speed below which the car is at a standstill, km/h (assumed).
pub const STANDING_KMH: f64 = 2.0;
/// Vehicle speed above which the car is driving, km/h; speeds between creep and belong to no region (assumed).
pub const DRIVING_KMH: f64 = 15.0;
/// Highest engine speed of an idle, rpm (assumed).
pub const IDLE_MOST_RPM: f64 = 1300.0;
/// Engine speeds that count as 2500 rpm without load, rpm.
pub const RAISED_RPM: std::ops::RangeInclusive<f64> = 1800.0..=3200.0;
/// Calculated load from which the region is [`Region::Loaded`], percent (assumed).
pub const LOADED_PCT: f64 = 55.0;

/// The region of a moment; `None` outside every region. Where the vehicle speed is not known, only idle and high load
/// can be told.
pub fn region_of(moment: &Moment) -> Option<Region> {
    let engine_speed = moment.get(Quantity::EngineSpeed)?;
    let load = moment.get(Quantity::Load);
    let pulls = load.is_some_and(|load| load >= LOADED_PCT);
    match moment.get(Quantity::VehicleSpeed) {
        Some(speed) if speed < STANDING_KMH => standing(engine_speed),
        Some(speed) if speed < DRIVING_KMH => None,
        Some(_) if pulls => Some(Region::Loaded),
        Some(_) if engine_speed >= IDLE_MOST_RPM => Some(Region::LightCruise),
        Some(_) => None,
        None if pulls => Some(Region::Loaded),
        None if engine_speed < IDLE_MOST_RPM => Some(Region::WarmIdle),
        None => None,
    }
}

/// Whether the car is known to be at a standstill.
pub fn is_standing(moment: &Moment) -> bool {
    let speed = moment.get(Quantity::VehicleSpeed);
    speed.is_some_and(|speed| speed < STANDING_KMH)
}

fn standing(engine_speed: f64) -> Option<Region> {
    if engine_speed < IDLE_MOST_RPM {
        Some(Region::WarmIdle)
    } else if RAISED_RPM.contains(&engine_speed) {
        Some(Region::RaisedIdle)
    } else {
        None
    }
}

/// A value for each region.
pub type ByRegion<T> = EnumMap<Region, T>;

/// A part of a recording: what lies in one region, or in none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Enum)]
pub enum Part {
    /// In this region.
    In(Region),
    /// Outside every region.
    Outside,
}

/// A value for each part of a recording.
pub type ByPart<T> = EnumMap<Part, T>;

impl Part {
    /// The region, where it is one.
    pub const fn region(self) -> Option<Region> {
        match self {
            Self::In(region) => Some(region),
            Self::Outside => None,
        }
    }
}

impl From<Option<Region>> for Part {
    fn from(region: Option<Region>) -> Self {
        region.map_or(Self::Outside, Self::In)
    }
}
