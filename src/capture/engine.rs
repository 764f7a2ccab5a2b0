//! Which controller runs the engine: only its answers describe the engine.

use pintle_protocol::Item;

use super::{decode::is_trim, header::Header};

/// Finds the engine controller: the one that the header names, else the first one that answers a fuel trim; until there
/// is one, the first controller that answers at all counts.
#[derive(Debug, Clone, Default)]
pub(super) struct EngineController {
    chosen: Option<Vec<u8>>,
    first: Option<Vec<u8>>,
}

impl EngineController {
    pub fn of(header: &Header) -> Self {
        let named = header
            .link
            .as_ref()
            .and_then(|link| link.engine_controller.as_ref());
        Self {
            chosen: named.map(|address| address.clone().into_bytes()),
            first: None,
        }
    }

    /// Notes that a controller gave a reading; returns whether it counts. An unknown controller always does.
    pub fn counts(&mut self, source: &[u8], item: Item) -> bool {
        if source.is_empty() {
            return true;
        }
        if self.chosen.is_none() && is_trim(item) {
            self.chosen = Some(source.to_vec());
        }
        let engine = self.chosen.as_ref().or(self.first.as_ref());
        match engine {
            Some(engine) => engine == source,
            None => {
                self.first = Some(source.to_vec());
                true
            }
        }
    }

    /// Whether nothing can change the choice any more.
    pub const fn is_settled(&self) -> bool {
        self.chosen.is_some()
    }

    /// Whether a controller counts, as far as is known now.
    pub fn is_engine(&self, source: &[u8]) -> bool {
        source.is_empty()
            || self
                .chosen
                .as_ref()
                .or(self.first.as_ref())
                .is_none_or(|engine| engine == source)
    }
}

#[cfg(test)]
mod tests {
    use pintle_protocol::Pid;

    use super::*;
    use crate::capture::LinkNote;

    /// A fuel trim, which identifies the engine controller.
    const TRIM: Item = Item::current(Pid::SHORT_TRIM_BANK_1);
    /// A vehicle speed, which other controllers answer too.
    const SPEED: Item = Item::current(Pid::VEHICLE_SPEED);

    #[test]
    fn the_first_that_answers_a_trim_runs_the_engine() {
        let mut engine = EngineController::of(&Header::default());
        assert!(engine.counts(b"7E9", SPEED));
        assert!(!engine.counts(b"7E8", SPEED));
        assert!(engine.counts(b"7E8", TRIM));
        assert!(!engine.counts(b"7E9", SPEED));
        assert!(!engine.counts(b"7E9", TRIM));
        assert!(engine.counts(b"", SPEED));
    }

    #[test]
    fn the_header_names_it_if_it_can() {
        let link = LinkNote {
            engine_controller: Some("10".to_owned()),
            ..LinkNote::default()
        };
        let mut engine = EngineController::of(&Header {
            link: Some(link),
            ..Header::default()
        });
        assert!(!engine.counts(b"18", TRIM));
        assert!(engine.counts(b"10", SPEED));
    }
}
