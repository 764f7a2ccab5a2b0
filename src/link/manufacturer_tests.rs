//! Service 06 on the buses before CAN: test numbers and their meaning are the manufacturer's own, so the bytes are handed on as
//! they come and nothing is made of them.

use super::{error::LinkError, question::Question, session::Session};
use pintle_protocol::pid::support;

/// Most tests asked for: a controller with more says nothing that anybody reads.
const MOST: usize = 64;

/// The answer to one test, unread.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ManufacturerTest {
    /// The manufacturer's number of the test.
    pub test: u8,
    /// What stands behind the number in each message: mostly kind of limit and component, value, limit (SAE J1979).
    pub messages: Vec<Vec<u8>>,
}

impl Session {
    /// The engine controller's test results on a bus before CAN; empty on CAN, where service 06 is decoded.
    ///
    /// # Errors
    /// When the link is lost over it.
    pub(super) async fn manufacturer_tests(&mut self) -> Result<Vec<ManufacturerTest>, LinkError> {
        let mut found = Vec::new();
        if self.connection().protocol.is_can() {
            return Ok(found);
        }
        for test in self.manufacturer_test_numbers().await? {
            let messages = self.unread(test).await?;
            if !messages.is_empty() {
                found.push(ManufacturerTest { test, messages });
            }
        }
        Ok(found)
    }

    /// Which tests there are: masks as in service 01, behind a byte that is always FF (SAE J1979, from memory).
    async fn manufacturer_test_numbers(&mut self) -> Result<Vec<u8>, LinkError> {
        let mut numbers = Vec::new();
        let mut next = Some(0);
        while let Some(base) = next.take() {
            for message in self.unread(base).await? {
                let [0xFF, a, b, c, d] = message[..] else {
                    continue;
                };
                for item in support::supported(base, [a, b, c, d]) {
                    if support::is_mask(item) {
                        next = Some(item).filter(|item| *item > base)
                    } else {
                        numbers.push(item)
                    }
                }
            }
        }
        numbers.truncate(MOST);
        Ok(numbers)
    }

    /// What the engine controller says to one test, without service and number.
    async fn unread(&mut self, test: u8) -> Result<Vec<Vec<u8>>, LinkError> {
        let reply = self.ask(Question::Monitor(test)).await?;
        Ok(self
            .all_of_engine(&reply)
            .filter_map(|message| match message.payload.as_slice() {
                [0x46, told, bytes @ ..] if *told == test => Some(bytes.to_vec()),
                _ => None,
            })
            .collect())
    }
}
