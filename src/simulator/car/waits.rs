//! A controller that needs time and says so: `7F`, service, `78` (ISO 14229-1, ISO 14230-3).

use super::{ControllerAnswer, NEGATIVE};

/// Reason of a negative answer: the answer will come later.
const RESPONSE_PENDING: u8 = 0x78;
/// How long an answer is kept for whoever asks the same again, µs.
const KEPT_US: u64 = 1_000_000;

/// How often and how long a controller asks to wait before each answer.
#[derive(Debug, Clone)]
pub(super) struct Waits {
    times: u8,
    each_us: u64,
    /// What is being prepared, and when it is ready, µs.
    preparing: Option<(Vec<u8>, u64)>,
}

impl Waits {
    pub const fn new(times: u8, each_us: u64) -> Self {
        Self {
            times,
            each_us,
            preparing: None,
        }
    }

    /// Puts the requests to wait before the answers of one controller. Asked again, the controller goes on with what it
    /// has begun.
    pub fn put_before(&mut self, answers: &mut Vec<ControllerAnswer>, request: &[u8], now_us: u64) {
        let Some(first) = answers
            .first()
            .filter(|first| first.payload.first() != Some(&NEGATIVE))
        else {
            return;
        };
        let (address, delay_us) = (first.address, first.delay_us);
        let ready_us = match &self.preparing {
            Some((asked, ready_us)) if asked == request && now_us <= ready_us + KEPT_US => {
                *ready_us
            }
            _ => now_us + u64::from(self.times) * self.each_us,
        };
        self.preparing = Some((request.to_vec(), ready_us));
        let left_us = ready_us.saturating_sub(now_us);
        for answer in answers.iter_mut() {
            answer.delay_us += left_us;
        }
        let service = request.first().copied().unwrap_or_default();
        let wait = |number: u64| ControllerAnswer {
            address,
            payload: vec![NEGATIVE, service, RESPONSE_PENDING],
            delay_us: delay_us + number * self.each_us,
        };
        let waits: Vec<ControllerAnswer> = (0..left_us.div_ceil(self.each_us.max(1)))
            .map(wait)
            .collect();
        answers.splice(..0, waits);
    }
}
