//! Trouble codes as evidence: how probable each is under a cause. Present codes say much, absent ones little, as a code
//! needs its monitor to have run and often a second trip. All probabilities are common practice where no source is
//! given.

use std::collections::BTreeSet;

use enum_map::EnumMap;
use pintle_protocol::dtc::TroubleCode;

use crate::{
    bank::Bank,
    cause::Cause,
    series::{
        gather::misfire_frame::{MisfireFrame, misfiring_cylinder},
        label::region::{ByRegion, Region},
        summary::Summary,
    },
};

use super::{
    super::forward::{Location, Prediction, logistic},
    Case, Conditions, Evidence, Fact, Piece, Reach, Sources,
};

/// Probability that a healthy car, or one with a different fault, shows a code of a family.
const STRAY: f64 = 0.004;
/// Share of a code's probability with which its absence counts against a cause, 0 to 1 (assumed).
const ABSENT: f64 = 0.3;
/// Share of a misfire code's probability with which its absence counts against a cause whose misfires damage the
/// catalyst, 0 to 1 (assumed): that monitor runs all the time and reports on the first trip (13 CCR 1968.2 (e)(3), from
/// memory).
const ABSENT_AT_ONCE: f64 = 0.85;
/// Share of all firings that fail from which [`ABSENT_AT_ONCE`] applies, 0 to 1 (assumed; thresholds run from 5 to 25 %
/// by manufacturer and operating point).
const CATALYST_SHARE: f64 = 0.15;
/// Share of a misfire code's probability with which its absence counts against a cause whose misfires are well above
/// what emissions allow, 0 to 1 (assumed): that monitor reports on the second trip (13 CCR 1968.2 (e)(3), from memory).
const ABSENT_SOON: f64 = 0.6;
/// Share of all firings that fail from which [`ABSENT_SOON`] applies, 0 to 1 (well above the 1 to 3 % that
/// manufacturers set).
const EMISSIONS_SHARE: f64 = 0.04;
/// Total fuel trim, as a logarithm, at which a mixture code is as likely as not (thresholds run from 20 to 45 % by
/// manufacturer and are often judged in weighted cells).
const MIXTURE_LOG: f64 = 0.20;
/// Width of the logistic curve around [`MIXTURE_LOG`], as a logarithm (assumed).
const MIXTURE_WIDTH: f64 = 0.035;
/// Share of all firings that fail at which a misfire code is as likely as not, 0 to 1 (1 to 3 % by manufacturer).
const MISFIRE_SHARE: f64 = 0.015;
/// Width of the logistic curve around [`MISFIRE_SHARE`], in the natural logarithm of the share (assumed).
const MISFIRE_WIDTH: f64 = 0.7;
/// Share of a cylinder's own firings that fail at which its own misfire code is as likely as not where many cylinders
/// misfire, 0 to 1 (assumed): codes name the cylinders that lead.
const CYLINDER_SHARE: f64 = 0.03;

/// Warm-ups since clearing from which monitors are assumed to have run (common practice).
const ENOUGH_WARM_UPS: f64 = 2.0;
/// Share of a driving cycle's firings by region, as cars are usually driven (common practice).
const DRIVEN: ByRegion<f64> = EnumMap::from_array([0.20, 0.03, 0.52, 0.25]);
/// Probability, 0 to 1, that a freeze frame was stored for a reason other than the cause predicts: in a different state
/// of the car, or at the end of a window that began elsewhere (assumed).
const FRAMED_ELSEWHERE: f64 = 0.4;

/// What a code is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum CodeFamily {
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

/// Evidence from the codes, where they were requested.
pub fn read(sources: &Sources<'_>) -> Option<Piece> {
    let codes = CodeEvidence::new(sources.summaries, sources.banks.count())?;
    let fact = Fact::Codes(sources.codes.to_vec());
    Some(Piece::new(codes, Some(fact)))
}

impl Evidence for CodeEvidence {
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

/// The codes found.
#[derive(Debug, Clone)]
pub struct CodeEvidence {
    families: BTreeSet<CodeFamily>,
    banks: usize,
    /// Region in which the engine ran when the first misfire code was stored; `None` where no freeze frame shows it.
    framed: Option<Region>,
}

impl CodeEvidence {
    /// Combines the captures; `None` where no code was found and codes were either not requested or cleared recently.
    pub fn new(summaries: &[Summary], banks: usize) -> Option<Self> {
        let codes = summaries.iter().flat_map(|summary| &summary.codes);
        let families: BTreeSet<CodeFamily> =
            codes.filter_map(|seen| code_family(seen.code)).collect();
        let framed = summaries
            .iter()
            .find_map(|s| region_of(s.misfire_frame.as_ref()?));
        let reported = !families.is_empty() || summaries.iter().any(tells_absence);
        reported.then_some(Self {
            families,
            banks,
            framed,
        })
    }

    /// Cylinders that codes name.
    pub fn cylinders(&self) -> impl Iterator<Item = u8> {
        self.families.iter().filter_map(|family| match family {
            CodeFamily::MisfireOf(number)
            | CodeFamily::InjectorCircuit(number)
            | CodeFamily::CoilCircuit(number)
            | CodeFamily::ImbalanceOf(number) => Some(*number),
            _ => None,
        })
    }

    /// Families of codes that could have been set, and of those that were, each once.
    fn considered(&self, suspects: &[Suspect]) -> Vec<CodeFamily> {
        let general = Bank::ALL
            .into_iter()
            .take(self.banks)
            .flat_map(|bank| [CodeFamily::Lean(bank), CodeFamily::Rich(bank)]);
        let general = general.chain([
            CodeFamily::Misfire,
            CodeFamily::Imbalance,
            CodeFamily::AirMeter,
            CodeFamily::PressureLow,
            CodeFamily::PressureHigh,
            CodeFamily::PurgeFlow,
        ]);
        let cylinders = suspects
            .iter()
            .filter_map(|suspect| suspect.location.cylinder);
        let own = cylinders.flat_map(|number| {
            [
                CodeFamily::MisfireOf(number),
                CodeFamily::InjectorCircuit(number),
                CodeFamily::CoilCircuit(number),
                CodeFamily::ImbalanceOf(number),
            ]
        });
        let mut considered = Vec::with_capacity(24);
        for family in general.chain(own).chain(self.families.iter().copied()) {
            // a handful: searching costs less than keeping them sorted
            if !considered.contains(&family) {
                considered.push(family);
            }
        }
        considered
    }

    /// Log-likelihood of the codes found and not found with these causes at work.
    fn under(&self, suspects: &[Suspect], prediction: &Prediction, cylinders: f64) -> f64 {
        let model = CodeModel::new(suspects, prediction, cylinders);
        let considered = self.considered(suspects);
        let one = |family: &CodeFamily| {
            let chance = (STRAY + (1.0 - STRAY) * model.chance(*family)).min(0.95);
            if self.families.contains(family) {
                chance.ln()
            } else {
                (-model.absence_weight(*family) * chance).ln_1p()
            }
        };
        let framed = self.framed.map_or(0.0, |region| model.framed_in(region));
        considered.iter().map(one).sum::<f64>() + framed
    }
}

/// Whether codes were requested and their monitors had time to run since the last clearing.
fn tells_absence(summary: &Summary) -> bool {
    let facts = &summary.facts;
    let warm_ups = facts.warm_ups_since_clear;
    facts.codes_asked
        && !facts.long_trim_from_zero
        && warm_ups.is_none_or(|count| count >= ENOUGH_WARM_UPS)
}

/// Region in which a freeze frame was stored, by the regions of the series.
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
    /// Where the cause sits.
    pub location: Location,
}

/// Causes with their joint prediction.
struct CodeModel<'a> {
    suspects: &'a [Suspect],
    prediction: &'a Prediction,
    cylinders: f64,
    /// Share of all firings that fail in the region where it is largest, 0 to 1.
    most_failing: f64,
}

impl<'a> CodeModel<'a> {
    fn new(suspects: &'a [Suspect], prediction: &'a Prediction, cylinders: f64) -> Self {
        let all = |(region, own): (Region, &f64)| {
            let others = prediction.failing_others[region];
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

    /// Probability that the causes set a code of this family, 0 to 1.
    fn chance(&self, family: CodeFamily) -> f64 {
        let only = |cause: Cause, chance: f64| if self.has(cause) { chance } else { 0.0 };
        let named = |number: u8| {
            let mut places = self.suspects.iter().map(|suspect| suspect.location);
            places.any(|location| location.cylinder == Some(number))
        };
        match family {
            CodeFamily::Lean(bank) => self.mixture(bank, 1.0),
            CodeFamily::Rich(bank) => self.mixture(bank, -1.0),
            CodeFamily::Misfire => 0.5 * self.misfire_code(),
            CodeFamily::MisfireOf(number) if named(number) => 0.85 * self.misfire_code(),
            CodeFamily::MisfireOf(_) => 0.5 * self.misfire_code_of_others(),
            CodeFamily::InjectorCircuit(number) if named(number) => only(Cause::InjectorDead, 0.7),
            CodeFamily::CoilCircuit(number) if named(number) => only(Cause::IgnitionWeak, 0.25),
            CodeFamily::ImbalanceOf(number) if named(number) => self.imbalance(),
            CodeFamily::Imbalance => 0.5 * self.imbalance(),
            CodeFamily::AirMeter => only(Cause::AirMeterLow, 0.3) + only(Cause::AirMeterHigh, 0.3),
            CodeFamily::PressureLow => only(Cause::FuelPressureLow, 0.3),
            CodeFamily::PressureHigh => only(Cause::FuelPressureHigh, 0.3),
            CodeFamily::PurgeFlow => only(Cause::PurgeStuck, 0.45),
            _ => 0.0,
        }
    }

    /// Share of a code's probability with which its absence counts against the causes, 0 to 1.
    fn absence_weight(&self, family: CodeFamily) -> f64 {
        match family {
            CodeFamily::Misfire | CodeFamily::MisfireOf(_)
                if self.most_failing >= CATALYST_SHARE =>
            {
                ABSENT_AT_ONCE
            }
            CodeFamily::Misfire | CodeFamily::MisfireOf(_)
                if self.most_failing >= EMISSIONS_SHARE =>
            {
                ABSENT_SOON
            }
            _ => ABSENT,
        }
    }

    /// Log-probability that a misfire code's freeze frame was stored in this region: where most firings of all
    /// cylinders fail on a usual drive.
    fn framed_in(&self, region: Region) -> f64 {
        let others = (self.cylinders - 1.0).max(0.0);
        let shares = self.prediction.failing.map(|region, own| {
            (own + others * self.prediction.failing_others[region]) * DRIVEN[region]
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

    /// Probability of a mixture code: the largest fuel trim predicted anywhere on the bank decides.
    fn mixture(&self, bank: Bank, sign: f64) -> f64 {
        let total = self.prediction.total();
        let regions = total[bank].values();
        let most = regions.map(|y| sign * y).fold(f64::MIN, f64::max);
        logistic((most - MIXTURE_LOG) / MIXTURE_WIDTH)
    }

    /// Probability that a cylinder other than the one at fault misfires often enough for its own code, 0 to 1.
    fn misfire_code_of_others(&self) -> f64 {
        let hit = self.prediction.failing_of_those_hit();
        let most = hit.into_values().fold(0.0, f64::max);
        let of_one_hit = if most > 0.0 {
            logistic((most / CYLINDER_SHARE).ln() / MISFIRE_WIDTH)
        } else {
            0.0
        };
        (1.0 - self.prediction.spared_others) * of_one_hit
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

/// Family of a code by its number (SAE J2012 / ISO 15031-6); `None` for codes of other systems.
fn code_family(code: TroubleCode) -> Option<CodeFamily> {
    // the numbers of powertrain codes begin with 0 to 3, and no other letter's do
    let TroubleCode(number) = code;
    let cylinder = |first: u16| (number - first + 1) as u8;
    Some(match number {
        0x0171 => CodeFamily::Lean(Bank::One),
        0x0174 => CodeFamily::Lean(Bank::Two),
        0x0172 => CodeFamily::Rich(Bank::One),
        0x0175 => CodeFamily::Rich(Bank::Two),
        0x0300 => CodeFamily::Misfire,
        0x0301..=0x0312 => CodeFamily::MisfireOf(misfiring_cylinder(code)?),
        0x0201..=0x0209 => CodeFamily::InjectorCircuit(cylinder(0x0201)),
        0x0210..=0x0212 => CodeFamily::InjectorCircuit((number - 0x0210) as u8 + 10),
        0x0261..=0x0296 => CodeFamily::InjectorCircuit(circuit_of(number)?),
        0x0351..=0x0359 => CodeFamily::CoilCircuit(cylinder(0x0351)),
        0x0360..=0x0362 => CodeFamily::CoilCircuit((number - 0x0360) as u8 + 10),
        0x219A | 0x219B => CodeFamily::Imbalance,
        0x219C..=0x219F => CodeFamily::ImbalanceOf(cylinder(0x219C)),
        0x21A0..=0x21A3 => CodeFamily::ImbalanceOf((number - 0x21A0) as u8 + 5),
        0x0100..=0x0104 | 0x0106..=0x0108 => CodeFamily::AirMeter,
        0x0087 => CodeFamily::PressureLow,
        0x0088 => CodeFamily::PressureHigh,
        0x0441 | 0x0443..=0x0445 | 0x0458 | 0x0459 | 0x0496 => CodeFamily::PurgeFlow,
        _ => return None,
    })
}

/// Cylinder of an injector circuit code: P0261 to P0296 hold three codes a cylinder (circuit low, circuit high,
/// balance), in decimal digits.
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
            ("P0171", Some(CodeFamily::Lean(Bank::One))),
            ("P0175", Some(CodeFamily::Rich(Bank::Two))),
            ("P0303", Some(CodeFamily::MisfireOf(3))),
            ("P0312", Some(CodeFamily::MisfireOf(12))),
            ("P0204", Some(CodeFamily::InjectorCircuit(4))),
            ("P0261", Some(CodeFamily::InjectorCircuit(1))),
            ("P0264", Some(CodeFamily::InjectorCircuit(2))),
            ("P0263", None),
            ("P0295", Some(CodeFamily::InjectorCircuit(12))),
            ("P219D", Some(CodeFamily::ImbalanceOf(2))),
            ("P21A1", Some(CodeFamily::ImbalanceOf(6))),
            ("P0496", Some(CodeFamily::PurgeFlow)),
            ("U0100", None),
            ("P0420", None),
        ] {
            assert_eq!(code_family(code.parse().unwrap()), expected, "{code}");
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
            |failing| CodeModel::new(&[], &prediction(failing), 4.0).framed_in(Region::WarmIdle);
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
            CodeEvidence::new(&[summary], 1)
        };
        assert!(asked(Some(40.0)).is_some() && asked(None).is_some());
        assert!(asked(Some(0.0)).is_none());
        assert!(CodeEvidence::new(&[Summary::default()], 1).is_none());
    }

    /// By hand, one of four cylinders, codes asked for and none there. All its firings, 25 % of all: its own code has a chance of
    /// 0.8355 and P0300 of 0.493, held against it by 0.85: ln 0.290 + ln 0.581 = −1.781. At 56 %, 14 % of all, 0.817 and 0.482
    /// by 0.6: ln 0.510 + ln 0.711 = −1.015.
    #[test]
    fn misfires_that_ruin_the_catalyst_and_set_no_code_are_hard_to_believe() {
        let none = CodeEvidence {
            families: BTreeSet::new(),
            banks: 1,
            framed: None,
        };
        let coil = Suspect {
            cause: Cause::IgnitionWeak,
            location: Location {
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
