//! Taking stock: codes, identity, and how good the link is.

use pintle_protocol::{
    dialogue::{Counts, Event},
    service::{
        Information,
        answer::{self, Answer as Meaning},
    },
};

use super::{
    codes::Codes,
    error::LinkError,
    manufacturer_tests::ManufacturerTest,
    plan,
    poller::Poller,
    quality::{Meter, Quality},
    question::Question,
    session::Session,
};

/// Below this a battery is nearly empty, engine off, ignition on (V, common practice).
pub const LOW_BATTERY_V: f64 = 11.8;

/// How long the link is tried before it is measured, µs: the number of lines of each answer is learned meanwhile.
const TRIAL_US: u64 = 500_000;

/// How long the link is measured, µs.
const MEASURED_US: u64 = 3_000_000;

/// Information type of the vehicle identification number (SAE J1979, service 09).
const IDENTIFICATION: u8 = 0x02;

/// Information type of the calibration identifications (SAE J1979, service 09).
const CALIBRATION: u8 = 0x04;

/// What taking stock found beyond the [connection](Session::connection).
#[derive(Debug, Clone, PartialEq)]
pub struct Probe {
    /// Codes and lamp; the freeze frame is left out.
    pub codes: Codes,
    /// Vehicle identification number.
    pub identification: Option<String>,
    /// Calibrations of the engine controller.
    pub calibrations: Vec<String>,
    /// Whether the engine controller has misfire counters that can be read; `None` without an engine controller.
    pub counts_misfires: Option<bool>,
    /// Results of service 06 on a bus before CAN, unread.
    pub manufacturer_tests: Vec<ManufacturerTest>,
    /// How good the link is; `None` when there is no engine controller to measure it by.
    pub quality: Option<Quality>,
}

impl Session {
    /// Reads codes and identity and measures the link for some seconds.
    ///
    /// # Errors
    /// When the link is lost over it.
    pub async fn probe(&mut self) -> Result<Probe, LinkError> {
        Ok(Probe {
            codes: self.code_lists(&mut Vec::new()).await?,
            identification: self.identification().await?,
            calibrations: self.calibrations().await?,
            counts_misfires: self.counts_misfires(),
            manufacturer_tests: self.manufacturer_tests().await?,
            quality: self.quality().await?,
        })
    }

    pub(super) async fn identification(&mut self) -> Result<Option<String>, LinkError> {
        Ok(match self.information(IDENTIFICATION).await? {
            Some(Meaning::VehicleIdentificationNumber(number)) => Some(number),
            _ => None,
        })
    }

    pub(super) async fn calibrations(&mut self) -> Result<Vec<String>, LinkError> {
        Ok(match self.information(CALIBRATION).await? {
            Some(Meaning::Information(Information::CalibrationIdentifiers(names))) => names,
            _ => Vec::new(),
        })
    }

    fn counts_misfires(&self) -> Option<bool> {
        let is_can = self.connection().protocol.is_can();
        let engine = self.engine().ok()?;
        Some(plan::counts_misfires(engine, is_can))
    }

    /// What the engine controller says to an information type, if it has it.
    async fn information(&mut self, kind: u8) -> Result<Option<Meaning>, LinkError> {
        let engine = self.connection().engine();
        if !engine.is_some_and(|engine| engine.information.contains(kind)) {
            return Ok(None);
        }
        let reply = self.ask(Question::Information(kind)).await?;
        let part = self.of_engine(&reply);
        Ok(part
            .and_then(|(answer, message)| answer::decode(&answer.request, &message.payload).ok()))
    }

    /// Asks for a while what a recording asks the most often.
    async fn quality(&mut self) -> Result<Option<Quality>, LinkError> {
        let Ok(engine) = self.engine() else {
            return Ok(None);
        };
        let wanted = plan::often(engine);
        let mut poller = Poller::new(&wanted, &self.connection, self.clock.now_us());
        self.poll(&mut poller, TRIAL_US, &mut Meter::new(self.baud))
            .await?;
        let (before, began_us) = (self.pump.counts(), self.clock.now_us());
        let mut meter = Meter::new(self.baud);
        self.poll(&mut poller, MEASURED_US, &mut meter).await?;
        let seconds = self.clock.now_us().saturating_sub(began_us) as f64 / 1e6;
        Ok(Some(
            meter.finish(seconds, since(before, self.pump.counts())),
        ))
    }

    async fn poll(
        &mut self,
        poller: &mut Poller,
        length_us: u64,
        meter: &mut Meter,
    ) -> Result<(), LinkError> {
        let end_us = self.clock.now_us().saturating_add(length_us);
        let mut bytes_before = self.bytes();
        while self.clock.now_us() < end_us || poller.is_asking() {
            let free = self.pump.is_ready() && !poller.is_asking();
            if free && let Some((request, lines)) = poller.next(self.clock.now_us()) {
                bytes_before = self.bytes();
                self.pump.request(&request, lines);
            }
            let until_us = if poller.is_asking() {
                None
            } else {
                Some(
                    poller
                        .next_due_us()
                        .map_or(end_us, |due_us| due_us.min(end_us)),
                )
            };
            match self.pump.next_event(until_us).await? {
                Some(Event::Answer(answer)) => {
                    poller.on_answer(&answer);
                    let took_us = answer.answered_at_us.saturating_sub(answer.asked_at_us);
                    meter.add(took_us, self.bytes() - bytes_before);
                }
                Some(Event::NoAnswer(no_answer)) => poller.on_no_answer(&no_answer),
                Some(Event::NeedReopen { words }) => return Err(LinkError::Lost(words)),
                _ => {}
            }
        }
        Ok(())
    }
}

/// Counts between two moments.
const fn since(before: Counts, now: Counts) -> Counts {
    Counts {
        answers: now.answers - before.answers,
        no_answers: now.no_answers - before.no_answers,
        damaged: now.damaged - before.damaged,
        strays: now.strays - before.strays,
        noise: now.noise - before.noise,
        restarts: now.restarts - before.restarts,
        recovery_steps: now.recovery_steps - before.recovery_steps,
    }
}
