//! Trouble codes as evidence: how probable each is under a cause. Present codes say much, absent
//! ones little, as a code needs its monitor to have run and often a second trip. All chances are
//! common practice.

use std::collections::BTreeSet;

use enum_map::EnumMap;

use crate::{
    bank::Bank,
    cause::Cause,
    series::{
        gather::misfire_frame::MisfireFrame,
        label::region::{ByRegion, Region},
        summary::Summary,
    },
};

use super::{
    super::forward::{Place, Prediction, logistic},
    Case, Conditions, Evidence, Fact, Piece, Reach, Sources,
};

/// Chance that a healthy car, or one with another fault, shows a code of a family all the same.
const STRAY: f64 = 0.004;
/// How much of its chance an absent code is held against a cause.
const ABSENT: f64 = 0.3;
/// The same of a misfire code where so large a share of all firings fails that the catalyst suffers: the monitor watches all the
/// time and tells on the first trip (13 CCR 1968.2 (e)(3), from memory; shares run from 5 to 25 % by maker and operation).
const ABSENT_AT_ONCE: f64 = 0.85;
const CATALYST_SHARE: f64 = 0.15;
/// The same where it is well above what emissions allow (1 to 3 %): told on the second trip (the same).
const ABSENT_SOON: f64 = 0.6;
const EMISSIONS_SHARE: f64 = 0.04;
/// Correction at which a mixture code is as likely as not, and how sharp that is (thresholds run
/// from 20 to 45 % by maker and are often judged in weighted cells).
const MIXTURE_LOG: f64 = 0.20;
const MIXTURE_WIDTH: f64 = 0.035;
/// Share of all firings that fail at which a misfire code is as likely as not (1 to 3 % by maker),
/// and how sharp that is in the logarithm.
const MISFIRE_SHARE: f64 = 0.015;
const MISFIRE_WIDTH: f64 = 0.7;
/// The same for a cylinder's own firings, when many cylinders misfire: a code names one by one those
/// that lead.
const CYLINDER_SHARE: f64 = 0.03;

/// Warm-ups since clearing from which on monitors may be taken to have run.
const ENOUGH_WARM_UPS: f64 = 2.0;
/// Share of a driving cycle's firings by region, as cars are usually driven, and how often a freeze frame was noted down
/// for another reason than the cause predicts: in another state of the car, or at the end of a window that began
/// elsewhere (common practice).
const DRIVEN: ByRegion<f64> = EnumMap::from_array([0.20, 0.03, 0.52, 0.25]);
const FRAMED_ELSEWHERE: f64 = 0.4;

/// What a code is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Family {
    Lean(Bank),
    Rich(Bank),
    Misfire,
    MisfireOf(u8),
    InjectorCircuit(u8),
    CoilCircuit(u8),
    Imbalance,
    ImbalanceOf(u8),
    AirMeter,
    PressureLow,
    PressureHigh,
    PurgeFlow,
}

/// The codes, where they were asked for.
pub fn read(sources: &Sources<'_>) -> Option<Piece> {
    let codes = Codes::new(sources.summaries, sources.banks.count())?;
    let fact = Fact::Codes(sources.codes.to_vec());
    Some(Piece::new(codes, Some(fact)))
}

impl Evidence for Codes {
    fn log_likelihood(&self, case: &Case<'_>) -> f64 {
        self.under(case.suspects, case.prediction, case.cylinders)
    }

    fn reach(&self) -> Reach {
        Reach::Cylinder
    }

    fn inform(&self, conditions: &mut Conditions) {
        conditions.tells_cylinders |= self.cylinders().next().is_some();
    }
}

/// The codes that were met.
#[derive(Debug, Clone)]
pub struct Codes {
    families: BTreeSet<Family>,
    banks: usize,
    /// Where the engine ran when the first misfire code was stored.
    framed: Option<Region>,
}

impl Codes {
    /// Takes the captures together; `None` when no code was met and either nobody asked or codes were cleared lately.
    pub fn new(summaries: &[Summary], banks: usize) -> Option<Self> {
        let codes = summaries.iter().flat_map(|summary| &summary.codes);
        let families: BTreeSet<Family> = codes.filter_map(|seen| family(&seen.code)).collect();
        let framed = summaries
            .iter()
            .find_map(|s| region_of(s.misfire_frame.as_ref()?));
        let told = !families.is_empty() || summaries.iter().any(tells_absence);
        told.then_some(Self {
            families,
            banks,
            framed,
        })
    }

    /// Cylinders that codes name.
    pub fn cylinders(&self) -> impl Iterator<Item = u8> {
        self.families.iter().filter_map(|family| match family {
            Family::MisfireOf(number)
            | Family::InjectorCircuit(number)
            | Family::CoilCircuit(number)
            | Family::ImbalanceOf(number) => Some(*number),
            _ => None,
        })
    }

    /// Codes that could have been set, and those that were, each once.
    fn considered(&self, suspects: &[Suspect]) -> Vec<Family> {
        let general = Bank::ALL
            .into_iter()
            .take(self.banks)
            .flat_map(|bank| [Family::Lean(bank), Family::Rich(bank)]);
        let general = general.chain([
            Family::Misfire,
            Family::Imbalance,
            Family::AirMeter,
            Family::PressureLow,
            Family::PressureHigh,
            Family::PurgeFlow,
        ]);
        let cylinders = suspects.iter().filter_map(|suspect| suspect.place.cylinder);
        let own = cylinders.flat_map(|number| {
            [
                Family::MisfireOf(number),
                Family::InjectorCircuit(number),
                Family::CoilCircuit(number),
                Family::ImbalanceOf(number),
            ]
        });
        let mut considered = Vec::with_capacity(24);
        for family in general.chain(own).chain(self.families.iter().copied()) {
            // a handful: looking through them costs less than keeping them in order
            if !considered.contains(&family) {
                considered.push(family);
            }
        }
        considered
    }

    /// Logarithm of the likelihood of the codes met and not met with these causes at work.
    fn under(&self, suspects: &[Suspect], prediction: &Prediction, cylinders: f64) -> f64 {
        let scene = Scene::new(suspects, prediction, cylinders);
        let considered = self.considered(suspects);
        let one = |family: &Family| {
            let chance = (STRAY + (1.0 - STRAY) * scene.chance(*family)).min(0.95);
            if self.families.contains(family) {
                chance.ln()
            } else {
                (-scene.held_against(*family) * chance).ln_1p()
            }
        };
        let framed = self.framed.map_or(0.0, |region| scene.framed_in(region));
        considered.iter().map(one).sum::<f64>() + framed
    }
}

/// Whether codes were asked for, and their monitors had time to run since the last clearing.
fn tells_absence(summary: &Summary) -> bool {
    let facts = &summary.facts;
    let warm_ups = facts.warm_ups_since_clear;
    facts.codes_asked
        && !facts.long_trim_from_zero
        && warm_ups.is_none_or(|count| count >= ENOUGH_WARM_UPS)
}

/// The region in which a freeze frame was noted down, as the series part them.
fn region_of(frame: &MisfireFrame) -> Option<Region> {
    let (rpm, load) = (frame.engine_rpm?, frame.load_pct?);
    match frame.speed_km_h? {
        speed if speed < 2.0 && rpm < 1300.0 => Some(Region::WarmIdle),
        speed if speed < 2.0 => Some(Region::RaisedIdle),
        _ if load >= 55.0 => Some(Region::Loaded),
        _ if rpm >= 1300.0 => Some(Region::LightCruise),
        _ => None,
    }
}

/// A cause at a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Suspect {
    /// The cause.
    pub cause: Cause,
    /// Where it sits.
    pub place: Place,
}

/// Causes with what they predict together.
struct Scene<'a> {
    suspects: &'a [Suspect],
    prediction: &'a Prediction,
    cylinders: f64,
    /// Share of all firings that fail, in the region where it is largest.
    most_failing: f64,
}

impl<'a> Scene<'a> {
    fn new(suspects: &'a [Suspect], prediction: &'a Prediction, cylinders: f64) -> Self {
        let all = |(region, own): (Region, &f64)| {
            let others = prediction.failing_beside[region];
            (own + (cylinders - 1.0).max(0.0) * others) / cylinders.max(1.0)
        };
        let shares = prediction.failing.iter();
        Self {
            suspects,
            prediction,
            cylinders,
            most_failing: shares.map(all).fold(0.0, f64::max),
        }
    }

    /// Chance that the cause sets a code of this family.
    fn chance(&self, family: Family) -> f64 {
        let only = |cause: Cause, chance: f64| if self.has(cause) { chance } else { 0.0 };
        let named = |number: u8| {
            let mut places = self.suspects.iter().map(|suspect| suspect.place);
            places.any(|place| place.cylinder == Some(number))
        };
        match family {
            Family::Lean(bank) => self.mixture(bank, 1.0),
            Family::Rich(bank) => self.mixture(bank, -1.0),
            Family::Misfire => 0.5 * self.misfire_code(),
            Family::MisfireOf(number) if named(number) => 0.85 * self.misfire_code(),
            Family::MisfireOf(_) => 0.5 * self.misfire_code_beside(),
            Family::InjectorCircuit(number) if named(number) => only(Cause::InjectorDead, 0.7),
            Family::CoilCircuit(number) if named(number) => only(Cause::IgnitionWeak, 0.25),
            Family::ImbalanceOf(number) if named(number) => self.imbalance(),
            Family::Imbalance => 0.5 * self.imbalance(),
            Family::AirMeter => only(Cause::AirMeterLow, 0.3) + only(Cause::AirMeterHigh, 0.3),
            Family::PressureLow => only(Cause::FuelPressureLow, 0.3),
            Family::PressureHigh => only(Cause::FuelPressureHigh, 0.3),
            Family::PurgeFlow => only(Cause::PurgeStuck, 0.45),
            _ => 0.0,
        }
    }

    /// How much of its chance an absent code is held against the cause.
    fn held_against(&self, family: Family) -> f64 {
        match family {
            Family::Misfire | Family::MisfireOf(_) if self.most_failing >= CATALYST_SHARE => {
                ABSENT_AT_ONCE
            }
            Family::Misfire | Family::MisfireOf(_) if self.most_failing >= EMISSIONS_SHARE => {
                ABSENT_SOON
            }
            _ => ABSENT,
        }
    }

    /// Logarithm of the chance that a misfire code's freeze frame was noted down in this region: where most firings of
    /// all cylinders fail on a usual drive.
    fn framed_in(&self, region: Region) -> f64 {
        let others = (self.cylinders - 1.0).max(0.0);
        let shares = self.prediction.failing.map(|region, own| {
            (own + others * self.prediction.failing_beside[region]) * DRIVEN[region]
        });
        let all: f64 = shares.values().sum();
        let predicted = if all > 1e-6 {
            shares[region] / all
        } else {
            DRIVEN[region]
        };
        (FRAMED_ELSEWHERE * DRIVEN[region] + (1.0 - FRAMED_ELSEWHERE) * predicted).ln()
    }

    fn has(&self, cause: Cause) -> bool {
        self.suspects.iter().any(|suspect| suspect.cause == cause)
    }

    fn imbalance(&self) -> f64 {
        if self.has(Cause::InjectorDead) {
            0.3
        } else if self.has(Cause::InjectorRestricted) || self.has(Cause::InjectorLeaking) {
            0.15
        } else {
            0.0
        }
    }

    /// The largest correction predicted anywhere on the bank decides.
    fn mixture(&self, bank: Bank, sign: f64) -> f64 {
        let total = self.prediction.total();
        let regions = total[bank].values();
        let most = regions.map(|y| sign * y).fold(f64::MIN, f64::max);
        logistic((most - MIXTURE_LOG) / MIXTURE_WIDTH)
    }

    /// Chance that the misfires of a cylinder that is not meant are many enough for its own code.
    fn misfire_code_beside(&self) -> f64 {
        let hit = self.prediction.failing_of_those_hit();
        let most = hit.into_values().fold(0.0, f64::max);
        let of_one_hit = if most > 0.0 {
            logistic((most / CYLINDER_SHARE).ln() / MISFIRE_WIDTH)
        } else {
            0.0
        };
        (1.0 - self.prediction.spared_beside) * of_one_hit
    }

    fn misfire_code(&self) -> f64 {
        let most = self.most_failing;
        if most > 0.0 {
            logistic((most / MISFIRE_SHARE).ln() / MISFIRE_WIDTH)
        } else {
            0.0
        }
    }
}

/// The family of a code by its number (SAE J2012 / ISO 15031-6).
fn family(code: &str) -> Option<Family> {
    let number = u16::from_str_radix(code.strip_prefix('P')?, 16).ok()?;
    let cylinder = |first: u16| (number - first + 1) as u8;
    Some(match number {
        0x0171 => Family::Lean(Bank::One),
        0x0174 => Family::Lean(Bank::Two),
        0x0172 => Family::Rich(Bank::One),
        0x0175 => Family::Rich(Bank::Two),
        0x0300 => Family::Misfire,
        0x0301..=0x0309 => Family::MisfireOf(cylinder(0x0301)),
        0x0310..=0x0312 => Family::MisfireOf((number - 0x0310) as u8 + 10),
        0x0201..=0x0209 => Family::InjectorCircuit(cylinder(0x0201)),
        0x0210..=0x0212 => Family::InjectorCircuit((number - 0x0210) as u8 + 10),
        0x0261..=0x0296 => Family::InjectorCircuit(circuit_of(number)?),
        0x0351..=0x0359 => Family::CoilCircuit(cylinder(0x0351)),
        0x0360..=0x0362 => Family::CoilCircuit((number - 0x0360) as u8 + 10),
        0x219A | 0x219B => Family::Imbalance,
        0x219C..=0x219F => Family::ImbalanceOf(cylinder(0x219C)),
        0x21A0..=0x21A3 => Family::ImbalanceOf((number - 0x21A0) as u8 + 5),
        0x0100..=0x0104 | 0x0106..=0x0108 => Family::AirMeter,
        0x0087 => Family::PressureLow,
        0x0088 => Family::PressureHigh,
        0x0441 | 0x0443..=0x0445 | 0x0458 | 0x0459 | 0x0496 => Family::PurgeFlow,
        _ => return None,
    })
}

/// P0261 to P0296 hold three codes a cylinder: circuit low, circuit high, balance; decimal digits.
fn circuit_of(number: u16) -> Option<u8> {
    let digits = (number >> 4 & 0xF) * 10 + (number & 0xF);
    let decimal = digits.checked_sub(61)?;
    let low_or_high = decimal % 3 < 2 && number & 0xF < 10;
    low_or_high.then_some((decimal / 3) as u8 + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// SAE J2012 (from memory): P0261 cylinder 1 low, P0262 high, P0264 cylinder 2 low, P0295
    /// cylinder 12 high.
    #[test]
    fn codes_fall_into_their_families() {
        for (code, expected) in [
            ("P0171", Some(Family::Lean(Bank::One))),
            ("P0175", Some(Family::Rich(Bank::Two))),
            ("P0303", Some(Family::MisfireOf(3))),
            ("P0312", Some(Family::MisfireOf(12))),
            ("P0204", Some(Family::InjectorCircuit(4))),
            ("P0261", Some(Family::InjectorCircuit(1))),
            ("P0264", Some(Family::InjectorCircuit(2))),
            ("P0263", None),
            ("P0295", Some(Family::InjectorCircuit(12))),
            ("P219D", Some(Family::ImbalanceOf(2))),
            ("P21A1", Some(Family::ImbalanceOf(6))),
            ("P0496", Some(Family::PurgeFlow)),
            ("U0100", None),
            ("P0420", None),
            ("nonsense", None),
        ] {
            assert_eq!(family(code), expected, "{code}");
        }
    }

    #[test]
    fn a_misfire_framed_at_idle_speaks_for_what_fails_at_idle() {
        let frame = MisfireFrame {
            code: "P0302".to_owned(),
            engine_rpm: Some(760.0),
            load_pct: Some(27.0),
            speed_km_h: Some(0.0),
            ..MisfireFrame::default()
        };
        assert_eq!(region_of(&frame), Some(Region::WarmIdle));
        let prediction = |failing| Prediction {
            failing,
            ..Prediction::default()
        };
        let framed =
            |failing| Scene::new(&[], &prediction(failing), 4.0).framed_in(Region::WarmIdle);
        let idle = framed(EnumMap::from_array([0.05, 0.001, 0.001, 0.0]));
        let loaded = framed(EnumMap::from_array([0.01, 0.01, 0.02, 0.06]));
        // by hand: 0.4 × 0.20 + 0.6 × 0.01 / 0.01055 = 0.65 against 0.08 + 0.6 × 0.002 / 0.0277 = 0.12
        assert!(
            (idle - loaded - (0.65_f64 / 0.123).ln()).abs() < 0.05,
            "{idle} {loaded}"
        );
    }

    #[test]
    fn no_code_says_something_only_when_it_was_asked_for_and_had_time_to_come() {
        let asked = |warm_ups| {
            let mut summary = Summary::default();
            summary.facts.codes_asked = true;
            summary.facts.warm_ups_since_clear = warm_ups;
            Codes::new(&[summary], 1)
        };
        assert!(asked(Some(40.0)).is_some() && asked(None).is_some());
        assert!(asked(Some(0.0)).is_none());
        assert!(Codes::new(&[Summary::default()], 1).is_none());
    }

    /// By hand, one of four cylinders, codes asked for and none there. All its firings, 25 % of all: its own code has a chance of
    /// 0.8355 and P0300 of 0.493, held against it by 0.85: ln 0.290 + ln 0.581 = −1.781. At 56 %, 14 % of all, 0.817 and 0.482
    /// by 0.6: ln 0.510 + ln 0.711 = −1.015.
    #[test]
    fn misfires_that_ruin_the_catalyst_and_set_no_code_are_hard_to_believe() {
        let none = Codes {
            families: BTreeSet::new(),
            banks: 1,
            framed: None,
        };
        let coil = Suspect {
            cause: Cause::IgnitionWeak,
            place: Place {
                bank: Some(Bank::One),
                cylinder: Some(2),
            },
        };
        let failing = |share| Prediction {
            failing: ByRegion::from_fn(|_| share),
            ..Prediction::default()
        };
        let of = |share| none.under(&[coil], &failing(share), 4.0);
        assert!(
            (of(1.0) - of(0.56) + 0.766).abs() < 0.01,
            "{}",
            of(1.0) - of(0.56)
        );
    }
}
