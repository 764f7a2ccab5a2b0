//! How many lines an answer should take that was never seen, by who supports what and the published lengths.

use pintle_protocol::{Pid, dialogue::Controller, pid::table};

/// Bytes of a message in a single frame (ISO 15765-2).
const SINGLE: usize = 7;

/// Bytes of a message in the first of several frames (ISO 15765-2).
const FIRST: usize = 6;

/// Bytes of a message in each frame after the first (ISO 15765-2).
const NEXT: usize = 7;

/// Lines of all answers to a request of service 01, one a frame; `None` where that cannot be told. Where a length depends
/// on the car, the shortest is taken: most cars have no second pair of banks.
pub(super) fn of_current(request: &[u8], controllers: &[Controller], is_can: bool) -> Option<u8> {
    let [0x01, pids @ ..] = request else {
        return None;
    };
    let mut lines = 0;
    for controller in controllers {
        // without headers, lines are cut differently
        controller.address?;
        let supported = pids
            .iter()
            .filter(|pid| controller.parameters.contains(**pid));
        let lengths =
            supported.map(|pid| Some(1 + usize::from(*table::row(Pid(*pid))?.lengths.first()?)));
        let bytes = 1 + lengths.sum::<Option<usize>>()?;
        lines += match bytes {
            1 => 0,
            _ if !is_can || bytes <= SINGLE => 1,
            _ => 1 + (bytes - FIRST).div_ceil(NEXT),
        };
    }
    u8::try_from(lines)
        .ok()
        .filter(|lines| (1..=15).contains(lines))
}

#[cfg(test)]
mod tests {
    use pintle_protocol::{Address, dialogue::Supported};

    use super::*;

    fn controller(address: u16, pids: &[u8]) -> Controller {
        let mut parameters = Supported::default();
        pids.iter().for_each(|pid| parameters.add(*pid));
        Controller {
            address: Some(Address::Can11(address)),
            parameters,
            monitors: Supported::default(),
            information: Supported::default(),
        }
    }

    // SAE J1979: engine speed takes two bytes, trims, load and vehicle speed one, air flow two.
    #[test]
    fn lines_are_counted_over_all_controllers() {
        let both = [
            controller(0x7E8, &[6, 12, 4, 16, 13, 7]),
            controller(0x7E9, &[12, 13]),
        ];
        let lines = |pids: &[u8]| of_current(&[&[1], pids].concat(), &both, true);
        assert_eq!(lines(&[12]), Some(2));
        assert_eq!(lines(&[6]), Some(1));
        // 41 and 2 + 3 bytes: one frame; with load 8 bytes: two; the other controller adds one
        assert_eq!(lines(&[6, 12]), Some(2));
        assert_eq!(lines(&[6, 12, 4]), Some(3));
        // 41 and 2 + 3 + 2 + 3 + 2 + 2 bytes: 6 and 7 and 2
        assert_eq!(lines(&[6, 12, 4, 16, 13, 7]), Some(4));
        assert_eq!(of_current(&[1, 12], &both, false), Some(2));
    }

    #[test]
    fn what_cannot_be_told_is_not_guessed() {
        let engine = [controller(0x7E8, &[12])];
        assert_eq!(of_current(&[9, 2], &engine, true), None);
        assert_eq!(of_current(&[1, 4], &engine, true), None);
        let hidden = [Controller {
            address: None,
            ..controller(0, &[12])
        }];
        assert_eq!(of_current(&[1, 12], &hidden, true), None);
    }
}
