//! Which car is at the other end, looked at before anything of it is filed beside what was recorded of another.

use pintle_protocol::dialogue::Controller;

use super::{error::LinkError, recording::RecordError, session::Session};
use crate::identity::{self, CarIdentity, Described, OtherCar, Sighting, SupportBlock};

/// So often the identification number is asked for before the car is taken as one without.
const ATTEMPTS: usize = 3;

/// Services whose items tell one car from another: current values and test results.
const SERVICES: [u8; 2] = [0x01, 0x06];

/// Which car is expected at the other end.
#[derive(Debug, Clone, Default)]
pub struct Expected {
    /// The car by the captures beside which its recording is to stand.
    pub seen: Vec<Sighting>,
    /// What somebody wrote down about it.
    pub described: Option<Described>,
    /// Somebody has said that it is the one, whatever speaks against it.
    pub same_car: bool,
}

/// Why a car was not taken for the one expected.
#[derive(Debug, thiserror::Error)]
pub enum MeetError {
    /// The way to the car.
    #[error(transparent)]
    Link(#[from] LinkError),
    /// It is another one.
    #[error(transparent)]
    OtherCar(#[from] OtherCar),
}

impl From<MeetError> for RecordError {
    fn from(error: MeetError) -> Self {
        match error {
            MeetError::Link(error) => Self::Link(error),
            MeetError::OtherCar(error) => Self::OtherCar(error),
        }
    }
}

impl Expected {
    /// Looks whether this can be the car expected, and gives what leaves a doubt, in sentences.
    ///
    /// # Errors
    /// When it is surely another one.
    pub fn check(&self, here: Sighting) -> Result<Vec<String>, OtherCar> {
        let seen: Vec<Sighting> = [here].into_iter().chain(self.seen.clone()).collect();
        identity::check(&seen, self.described.as_ref(), self.same_car)
    }
}

impl Session {
    /// Looks whether the car at the other end can be the one expected, and gives what leaves a doubt, in sentences. It is
    /// asked for its identity only where there is one to compare it with.
    ///
    /// # Errors
    /// When it is surely another one, and when the link is lost over it.
    pub async fn meet(&mut self, expected: &Expected) -> Result<Vec<String>, MeetError> {
        let mut car = self.header(None).car();
        if !expected.seen.is_empty() {
            self.ask_identity(&mut car).await?;
        }
        let source = format!("the car at {}", self.device);
        Ok(expected.check(Sighting { source, car })?)
    }

    /// Asks for the identification number, again where the answer was lost, and for the calibrations.
    async fn ask_identity(&mut self, car: &mut CarIdentity) -> Result<(), LinkError> {
        for _ in 0..ATTEMPTS {
            if let Some(number) = self.identification().await? {
                car.take_vin(&number);
                break;
            }
        }
        car.calibrations = self.calibrations().await?;
        Ok(())
    }
}

/// What a controller supports, block by block.
pub(super) fn supported_by(engine: &Controller) -> Vec<SupportBlock> {
    let items = [&engine.parameters, &engine.monitors];
    let services = SERVICES.into_iter().zip(items);
    let blocks = services.flat_map(|(service, items)| {
        let firsts = (0..=0xE0).step_by(0x20);
        firsts
            .filter_map(move |first| SupportBlock::of(service, first, |item| items.contains(item)))
    });
    blocks.collect()
}
