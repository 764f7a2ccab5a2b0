//! The judgement of what is recorded so far, made beside the screen: a drawing never waits for it, and never shows
//! another number than `diagnose` would.

use std::{
    sync::mpsc::{Receiver, SyncSender, TryRecvError, TrySendError, sync_channel},
    thread,
};

use crate::{
    diagnose::{self, Diagnosis, Tables},
    series::summary::Summary,
    vehicle::Vehicle,
};

/// What a summary is judged to say.
#[derive(Debug, Clone, Default)]
pub struct Judgement {
    /// What was judged.
    pub summary: Summary,
    /// What it says.
    pub diagnosis: Diagnosis,
}

/// Judges a summary here and now.
fn judge(summary: Summary, vehicle: &Vehicle, tables: &Tables) -> Judgement {
    let diagnosis = diagnose::diagnose(std::slice::from_ref(&summary), vehicle, tables);
    Judgement { summary, diagnosis }
}

/// A thread that judges one summary after the other.
#[derive(Debug)]
pub struct Judge {
    summaries: SyncSender<Summary>,
    judgements: Receiver<Judgement>,
    at_work: bool,
    vehicle: Vehicle,
    tables: Tables,
}

impl Judge {
    /// Begins to wait for summaries of this vehicle.
    pub fn new(vehicle: Vehicle, tables: Tables) -> Self {
        let (summaries, asked) = sync_channel::<Summary>(1);
        let (answers, judgements) = sync_channel(1);
        let own = (vehicle.clone(), tables.clone());
        thread::spawn(move || {
            for summary in asked {
                if answers.send(judge(summary, &vehicle, &tables)).is_err() {
                    break;
                }
            }
        });
        Self {
            summaries,
            judgements,
            at_work: false,
            vehicle: own.0,
            tables: own.1,
        }
    }

    /// Judges a summary here and now; whoever asks waits for it.
    pub fn whole(&self, summary: Summary) -> Judgement {
        judge(summary, &self.vehicle, &self.tables)
    }

    /// Whether a summary can be taken now.
    pub const fn is_free(&self) -> bool {
        !self.at_work
    }

    /// Gives it a summary to judge; one that is at work already goes on with what it has.
    pub fn give(&mut self, summary: Summary) {
        if self.at_work {
            return;
        }
        match self.summaries.try_send(summary) {
            Ok(()) => self.at_work = true,
            Err(TrySendError::Full(_) | TrySendError::Disconnected(_)) => {}
        }
    }

    /// The judgement, once it is made.
    pub fn made(&mut self) -> Option<Judgement> {
        match self.judgements.try_recv() {
            Ok(judgement) => {
                self.at_work = false;
                Some(judgement)
            }
            Err(TryRecvError::Empty | TryRecvError::Disconnected) => None,
        }
    }
}
