//! What keeps an engine out of a region, by the way it runs.

use super::{feedback::Reason, step::Hold};
use crate::series::{label::region::Region, timeline::course::Running};

/// The first thing to be changed; `None` when everything required is held.
pub fn misplaced(region: Region, hold: &Hold, running: &Running) -> Option<Reason> {
    let Some(rpm) = running.engine_rpm else {
        return Some(Reason::NoReadings);
    };
    let speed = by_speed(region, hold, running.speed_km_h);
    let engine_speed = (!hold.engine_rpm.hold(rpm)).then_some(Reason::EngineSpeed {
        rpm,
        hold: hold.engine_rpm,
    });
    speed
        .or_else(|| by_load(region, hold, running.load_pct))
        .or(engine_speed)
}

/// What is wrong with the vehicle speed; without a speed only idling and high load can be recognised.
fn by_speed(region: Region, hold: &Hold, speed_km_h: Option<f64>) -> Option<Reason> {
    let Some(speed) = speed_km_h else {
        let needs = matches!(region, Region::RaisedIdle | Region::LightCruise);
        return needs.then_some(Reason::NoSpeed);
    };
    let reason = match region {
        Region::WarmIdle | Region::RaisedIdle => Reason::NotStanding,
        Region::LightCruise | Region::Loaded => Reason::NotDriving,
    };
    (!hold.speed_km_h.hold(speed)).then_some(reason)
}

fn by_load(region: Region, hold: &Hold, load_pct: Option<f64>) -> Option<Reason> {
    match load_pct {
        Some(pct) if !hold.load_pct.hold(pct) => Some(Reason::Load {
            pct,
            hold: hold.load_pct,
        }),
        None if region == Region::Loaded => Some(Reason::NoLoad),
        _ => None,
    }
}
