//! What the conversation is about at the moment.

use super::{discovery::Discovery, event::Stage, exchange::Exchange, setup::Setup};
use crate::adapter::Command;

/// What the conversation is about at the moment.
#[derive(Debug)]
pub(super) enum Phase {
    /// No port, or a port that is of no use any more.
    Closed,
    /// The beginning.
    Setup(Setup),
    /// Who is there.
    Discovery(Discovery),
    /// A controller asked to wait; the phase goes on with this command at the time given.
    Later(Box<Phase>, Command, u64),
    /// Waiting for a request.
    Ready,
    /// A request.
    Exchange(Exchange),
    /// A controller asked to wait; the request is made again at the time given.
    Pause(Exchange, u64),
    /// A lone line end, before a request is made again.
    Flush(Exchange),
    /// Settings are made again, perhaps before a request is made again.
    Reinit(Setup, Option<Exchange>),
}

impl Phase {
    /// Takes the phase out; [`Phase::Closed`] stays behind until the next is known.
    pub fn take(&mut self) -> Self {
        std::mem::replace(self, Self::Closed)
    }

    /// How far the way to the car has come; none before it and after it.
    pub fn stage(&self) -> Option<Stage> {
        match self {
            Self::Setup(setup) => Some(setup.stage()),
            Self::Discovery(_) => Some(Stage::Controllers),
            Self::Later(phase, ..) => phase.stage(),
            _ => None,
        }
    }

    /// The request that is not over yet, if there is one.
    pub fn into_exchange(self) -> Option<Exchange> {
        match self {
            Self::Exchange(exchange) | Self::Pause(exchange, _) | Self::Flush(exchange) => {
                Some(exchange)
            }
            Self::Reinit(_, exchange) => exchange,
            Self::Closed | Self::Setup(_) | Self::Discovery(_) | Self::Later(..) | Self::Ready => {
                None
            }
        }
    }
}
