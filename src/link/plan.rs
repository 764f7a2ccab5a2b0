//! What a recording wants to know and how often: data, in the order of importance.

use pintle_protocol::{Pid, dialogue::Controller, service::Services};

use super::question::Question;

/// How often something is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Pace {
    /// As often as the link allows, before all others: short trims and where the engine stands.
    Foremost,
    /// As often as the link allows: what the fuel trims and the engine's operation are judged by.
    Often,
    /// What explains a moment: throttle, purge, oxygen sensors.
    Sometimes,
    /// Temperatures, levels, counters. Readings older than 10 s are not believed, so never slower than a third of that.
    Rarely,
    /// Misfire counters.
    Misfires,
    /// Trouble codes and readiness.
    EveryMinute,
    /// What does not change during a drive.
    Once,
}

impl Pace {
    /// Whether it is asked for whenever nothing else is due.
    pub const fn is_as_often_as_possible(self) -> bool {
        matches!(self, Self::Foremost | Self::Often)
    }

    /// Time between two readings, µs; `None` for a single reading. Buses before CAN answer five to eight requests a
    /// second of one parameter each: what is wanted is more than they carry, everything comes later than its time by
    /// the same two seconds or so, and the short trims still every two.
    pub const fn period_us(self, is_can: bool) -> Option<u64> {
        Some(match self {
            Self::Foremost | Self::Often if is_can => 5_000,
            Self::Foremost => 200_000,
            Self::Often => 1_500_000,
            Self::Sometimes if is_can => 1_000_000,
            Self::Sometimes => 7_000_000,
            Self::Rarely if is_can => 3_000_000,
            Self::Rarely => 7_000_000,
            Self::Misfires => 3_000_000,
            Self::EveryMinute => 60_000_000,
            Self::Once => return None,
        })
    }
}

use Pace::{EveryMinute, Foremost, Misfires, Often, Once, Rarely, Sometimes};

/// Service 01, the most important first: when all of one pace do not fit into one request, the first are asked for
/// the most often.
const PARAMETERS: [(u8, Pace); 61] = [
    (0x06, Foremost),  // short term trim, bank 1
    (0x08, Foremost),  // short term trim, bank 2
    (0x0C, Foremost),  // engine speed
    (0x04, Foremost),  // calculated load
    (0x10, Often),     // air flow
    (0x0B, Often),     // manifold pressure
    (0x0D, Often),     // vehicle speed
    (0x03, Often),     // fuel system status
    (0x07, Often),     // long term trim, bank 1
    (0x09, Often),     // long term trim, bank 2
    (0x11, Sometimes), // throttle
    (0x0E, Sometimes), // spark advance
    (0x2E, Sometimes), // commanded purge
    (0x44, Sometimes), // commanded equivalence ratio
    (0x43, Sometimes), // absolute load
    (0x14, Sometimes), // oxygen sensors, narrow
    (0x15, Sometimes),
    (0x16, Sometimes),
    (0x17, Sometimes),
    (0x18, Sometimes),
    (0x19, Sometimes),
    (0x1A, Sometimes),
    (0x1B, Sometimes),
    (0x24, Sometimes), // oxygen sensors, wide, by voltage
    (0x25, Sometimes),
    (0x28, Sometimes),
    (0x29, Sometimes),
    (0x34, Sometimes), // oxygen sensors, wide, by current
    (0x35, Sometimes),
    (0x38, Sometimes),
    (0x39, Sometimes),
    (0x55, Sometimes), // secondary trims
    (0x56, Sometimes),
    (0x57, Sometimes),
    (0x58, Sometimes),
    (0x0A, Sometimes), // fuel pressure
    (0x22, Sometimes),
    (0x23, Sometimes),
    (0x59, Sometimes),
    (0x6D, Sometimes),   // rail pressure, commanded and actual
    (0x5E, Sometimes),   // fuel rate
    (0x05, Rarely),      // coolant
    (0x0F, Rarely),      // intake air
    (0x1F, Rarely),      // time since start
    (0x42, Rarely),      // module voltage
    (0x33, Rarely),      // barometer
    (0x2F, Rarely),      // fuel level
    (0x52, Rarely),      // ethanol
    (0x30, Rarely),      // since codes were cleared: warm-ups
    (0x31, Rarely),      // distance
    (0x4E, Rarely),      // minutes
    (0x46, Rarely),      // ambient air
    (0x5C, Rarely),      // oil
    (0x21, Rarely),      // with the lamp on: distance
    (0x4D, Rarely),      // minutes
    (0x01, EveryMinute), // lamp, number of codes, readiness
    (0x41, EveryMinute),
    (0x13, Once), // which oxygen sensors there are
    (0x1D, Once),
    (0x1C, Once), // which rules the car follows
    (0x51, Once), // fuel type
];

/// Misfire monitors of service 06: all cylinders together, then cylinders 1 to 12 (SAE J1979).
const MISFIRE_MONITORS: std::ops::RangeInclusive<u8> = 0xA1..=0xAD;

/// Whether this engine controller counts misfires in a form that can be read: on CAN alone, before it the content of
/// service 06 is the maker's.
pub(super) fn counts_misfires(engine: &Controller, is_can: bool) -> bool {
    MISFIRE_MONITORS
        .skip(1)
        .any(|monitor| is_can && engine.monitors.contains(monitor))
}

/// Service 09: identification number, calibration, name of the controller (SAE J1979).
const INFORMATION: [u8; 3] = [0x02, 0x04, 0x0A];

/// Services without items.
const CODES: [(Question, Pace); 3] = [
    (Question::StoredCodes, EveryMinute),
    (Question::PendingCodes, EveryMinute),
    (Question::PermanentCodes, Once),
];

/// The freeze frame's first question: which code it belongs to.
pub(super) const FROZEN_CODE: Pid = Pid(0x02);

/// What is wanted of a freeze frame beyond its code, as far as the controller has it.
const FROZEN: [u8; 17] = [
    0x03, 0x04, 0x05, 0x06, 0x07, 0x08, 0x09, 0x0B, 0x0C, 0x0D, 0x0E, 0x0F, 0x10, 0x11, 0x1F, 0x2F,
    0x43,
];

/// Something wanted, and how often.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Wanted {
    /// The question.
    pub question: Question,
    /// How often it is asked.
    pub pace: Pace,
}

/// Everything that a recording wants of this engine controller. Freeze frames of newer cars are asked for code by code,
/// once the codes are known.
pub(super) fn recording(engine: &Controller, is_can: bool, services: Services) -> Vec<Wanted> {
    let monitors = MISFIRE_MONITORS
        .filter(|monitor| is_can && engine.monitors.contains(*monitor))
        .map(|monitor| (Question::Monitor(monitor), Misfires));
    let information = INFORMATION
        .into_iter()
        .filter(|kind| engine.information.contains(*kind))
        .map(|kind| (Question::Information(kind), Once));
    let frozen = (Question::Frozen(FROZEN_CODE), EveryMinute);
    let frozen = (services == Services::SaeJ1979).then_some(frozen);
    parameters(engine)
        .chain(monitors)
        .chain(CODES)
        .chain(information)
        .chain(frozen)
        .map(|(question, pace)| Wanted { question, pace })
        .collect()
}

/// Only what is wanted as often as possible: a measure of the link.
pub(super) fn often(engine: &Controller) -> Vec<Wanted> {
    parameters(engine)
        .filter(|(_, pace)| pace.is_as_often_as_possible())
        .map(|(question, pace)| Wanted { question, pace })
        .collect()
}

/// What is asked of a freeze frame that there is.
pub(super) fn frozen_parameters(engine: &Controller) -> Vec<Pid> {
    FROZEN
        .into_iter()
        .filter(|pid| engine.parameters.contains(*pid))
        .map(Pid)
        .collect()
}

fn parameters(engine: &Controller) -> impl Iterator<Item = (Question, Pace)> + '_ {
    PARAMETERS
        .into_iter()
        .filter(|(pid, _)| engine.parameters.contains(*pid))
        .map(|(pid, pace)| (Question::Current(Pid(pid)), pace))
}

#[cfg(test)]
mod tests {
    use pintle_protocol::dialogue::Supported;

    use super::*;

    fn engine(parameters: &[u8], monitors: &[u8]) -> Controller {
        let set = |items: &[u8]| {
            let mut set = Supported::default();
            items.iter().for_each(|item| set.add(*item));
            set
        };
        Controller {
            address: None,
            parameters: set(parameters),
            monitors: set(monitors),
            information: set(&[0x02]),
        }
    }

    fn pace_of(wanted: &[Wanted], question: Question) -> Option<Pace> {
        let found = wanted.iter().find(|wanted| wanted.question == question);
        found.map(|wanted| wanted.pace)
    }

    #[test]
    fn only_what_the_controller_has_is_wanted() {
        let engine = engine(&[0x06, 0x0C, 0x05, 0x7B], &[0xA2, 0xA3, 0x01]);
        let wanted = recording(&engine, true, Services::SaeJ1979);
        let pace = |question| pace_of(&wanted, question);
        assert_eq!(pace(Question::Current(Pid(0x06))), Some(Foremost));
        assert_eq!(pace(Question::Current(Pid(0x05))), Some(Rarely));
        assert_eq!(pace(Question::Current(Pid(0x08))), None);
        assert_eq!(pace(Question::Monitor(0xA3)), Some(Misfires));
        assert_eq!(pace(Question::Monitor(0x01)), None);
        assert_eq!(pace(Question::StoredCodes), Some(EveryMinute));
        assert_eq!(pace(Question::Information(0x02)), Some(Once));
        assert_eq!(often(&engine).len(), 2);
    }

    // Before CAN, service 06 has maker-specific content (SAE J1979).
    #[test]
    fn monitors_are_wanted_on_can_alone() {
        let wanted = recording(&engine(&[0x0C], &[0xA2]), false, Services::SaeJ1979);
        assert_eq!(pace_of(&wanted, Question::Monitor(0xA2)), None);
    }

    #[test]
    fn no_parameter_stands_twice_in_the_plan() {
        let mut pids: Vec<u8> = PARAMETERS.iter().map(|(pid, _)| *pid).collect();
        pids.sort_unstable();
        pids.dedup();
        assert_eq!(pids.len(), PARAMETERS.len());
    }
}
