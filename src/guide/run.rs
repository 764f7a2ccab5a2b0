//! One guided run: its current step, the seconds that count so far, and what the person should do.

use super::{
    feedback::{Feedback, Reason},
    guidance::{Against, Guidance, Progress, Status, StepState},
    place::misplaced,
    shown::Shown,
    step::{Hold, STEPS, Step, Task},
};
use crate::{
    compare::{Coverage, Spread, planned_seconds},
    series::{
        label::{
            Label,
            region::{ByRegion, Region},
        },
        summary::Summary,
        timeline::course::{Running, Second},
    },
};

/// Step to which wanted seconds are rounded: half minutes, as finer values would suggest a precision that they lack.
const ROUND_S: f64 = 30.0;

/// A guided run. Seconds count whenever they come: a step that was completed on the way is not asked for.
#[derive(Debug, Clone)]
pub struct Run {
    coverage: Option<Coverage>,
    /// Seconds wanted by region without earlier captures.
    usual: ByRegion<f64>,
    current: usize,
    held: [Held; STEPS.len()],
    warm: bool,
    shown: Shown,
    /// The latest second judged, and how the engine ran at that time.
    latest: Option<(Second, Running)>,
}

/// Seconds counted for a step.
#[derive(Debug, Clone, Copy, Default)]
struct Held {
    seconds: f64,
    skipped: bool,
    /// Seconds that have to count where the step is repeated; `None` otherwise.
    again_until: Option<f64>,
}

impl Default for Run {
    fn default() -> Self {
        Self::new(&[])
    }
}

impl Run {
    /// A run at its first step. With earlier captures of the same car it asks for the same driving again.
    pub fn new(before: &[Summary]) -> Self {
        Self {
            coverage: (!before.is_empty()).then(|| Coverage::of(before)),
            usual: ByRegion::from_fn(|region| {
                let planned = planned_seconds(region, &Spread::DEFAULT);
                (planned / ROUND_S).ceil() * ROUND_S
            }),
            current: 0,
            held: [Held::default(); STEPS.len()],
            warm: false,
            shown: Shown::nothing(),
            latest: None,
        }
    }

    /// Takes in the next second of the course, and how the engine runs by now.
    pub fn advance(&mut self, second: &Second, running: &Running) {
        let was_done = self.is_done(self.current);
        self.count(second);
        self.latest = Some((*second, *running));
        if was_done || !self.is_done(self.current) {
            self.shown.take(self.news(second, running));
        } else {
            self.go_on();
        }
    }

    /// Skips the step, or goes on from one that is done.
    pub fn skip(&mut self) {
        if self.step().task == Task::Finish {
            return;
        }
        if let Some(held) = self.held.get_mut(self.current) {
            held.skipped = true;
        }
        self.go_on();
    }

    /// Asks for the step once more, on top of what counts already.
    pub fn repeat(&mut self) {
        let Task::Hold(region) = self.step().task else {
            return;
        };
        let more = self.planned(region);
        if let Some(held) = self.held.get_mut(self.current) {
            held.again_until = Some(held.seconds + more);
            held.skipped = false;
        }
    }

    /// Goes one step back; that step is no longer skipped, and stays current even when it is done.
    pub fn back(&mut self) {
        self.go_to(self.current.saturating_sub(1));
        if let Some(held) = self.held.get_mut(self.current) {
            held.skipped = false;
        }
    }

    /// The guidance to show now.
    pub fn guidance(&self) -> Guidance {
        let step = self.step();
        let region = match step.task {
            Task::Hold(region) => Some(region),
            Task::WarmUp | Task::Finish => None,
        };
        let wanted = self.coverage.as_ref().map(Coverage::wanted_cells);
        Guidance {
            number: self.current + 1,
            of: STEPS.len(),
            task: step.task,
            title: step.title,
            instruction: step.instruction,
            why: step.why,
            cautions: step.cautions,
            hold: region.map(|region| self.hold(region)),
            against: region.map_or(Against::Nothing, |region| self.against(region)),
            feedback: self.shown.feedback(),
            progress: self.progress(self.current),
            whole: self.whole(),
            steps: (0..STEPS.len()).map(|index| self.state(index)).collect(),
            wanted: wanted.unwrap_or_default(),
        }
    }

    fn step(&self) -> &'static Step {
        let [first, ..] = &STEPS;
        STEPS.get(self.current).unwrap_or(first)
    }

    fn go_to(&mut self, index: usize) {
        self.current = index;
        self.shown = Shown::nothing();
        if let Some((second, running)) = &self.latest {
            self.shown.take(self.news(second, running));
        }
    }

    /// To the next step that is neither done nor skipped.
    fn go_on(&mut self) {
        let last = STEPS.len() - 1;
        let open = |index: &usize| !self.is_done(*index) && !self.is_skipped(*index);
        let next = (self.current + 1..last).find(open);
        self.go_to(next.unwrap_or(last));
    }

    fn is_skipped(&self, index: usize) -> bool {
        self.held.get(index).is_some_and(|held| held.skipped)
    }

    fn is_done(&self, index: usize) -> bool {
        match STEPS.get(index).map(|step| step.task) {
            Some(Task::WarmUp) => self.warm,
            Some(Task::Hold(_)) => {
                let progress = self.progress(index);
                progress.counted_seconds >= progress.wanted_seconds
            }
            Some(Task::Finish) | None => false,
        }
    }

    fn state(&self, index: usize) -> StepState {
        let status = match () {
            () if index == self.current => Status::Current,
            () if self.is_done(index) => Status::Done,
            () if self.is_skipped(index) => Status::Skipped,
            () => Status::Open,
        };
        StepState {
            title: STEPS.get(index).map_or("", |step| step.title),
            status,
            was_skipped: self.is_skipped(index),
            progress: self.progress(index),
        }
    }

    fn count(&mut self, second: &Second) {
        self.warm |= is_warm(second.label);
        for index in 0..STEPS.len() {
            let Some(Task::Hold(region)) = STEPS.get(index).map(|step| step.task) else {
                continue;
            };
            let fits = self.fits(region, second);
            if let Some(held) = self.held.get_mut(index) {
                held.seconds += f64::from(u8::from(fits));
            }
        }
        if let Some(coverage) = &mut self.coverage {
            coverage.push(second);
        }
    }

    fn fits(&self, region: Region, second: &Second) -> bool {
        let hold = self.hold(region).engine_rpm;
        let rpm = second.running.engine_rpm;
        second.label == Label::Used
            && second.region == Some(region)
            && rpm.is_some_and(|rpm| hold.hold(rpm))
    }

    /// The operation to hold; where earlier captures are followed, their own cells are the bounds, not narrower ones.
    fn hold(&self, region: Region) -> Hold {
        Hold::of(region, self.against(region) != Against::Earlier)
    }

    fn against(&self, region: Region) -> Against {
        match &self.coverage {
            None => Against::Nothing,
            Some(coverage) if coverage.wanted_seconds(region).is_some() => Against::Earlier,
            Some(_) => Against::HardlyThere,
        }
    }

    /// Seconds wanted of a region.
    fn planned(&self, region: Region) -> f64 {
        let of_earlier = self.coverage.as_ref();
        let of_earlier = of_earlier.and_then(|coverage| coverage.wanted_seconds(region));
        of_earlier.unwrap_or(self.usual[region])
    }

    fn progress(&self, index: usize) -> Progress {
        let held = self.held.get(index).copied().unwrap_or_default();
        let Some(Task::Hold(region)) = STEPS.get(index).map(|step| step.task) else {
            return Progress::default();
        };
        let (seconds, wanted_seconds) = match (held.again_until, &self.coverage) {
            (Some(until), _) => (held.seconds, until),
            (None, Some(coverage)) if self.against(region) == Against::Earlier => {
                (coverage.matched_seconds(region), self.planned(region))
            }
            _ => (held.seconds, self.planned(region)),
        };
        Progress {
            counted_seconds: seconds.min(wanted_seconds),
            wanted_seconds,
        }
    }

    /// Progress of all steps together; a skipped step wants no more seconds.
    fn whole(&self) -> Progress {
        let mut whole = Progress::default();
        for index in 0..STEPS.len() {
            let own = self.progress(index);
            whole.counted_seconds += own.counted_seconds;
            whole.wanted_seconds += if self.is_skipped(index) {
                own.counted_seconds
            } else {
                own.wanted_seconds
            };
        }
        whole
    }

    /// What one second counts for: its region by the newest readings, its label by the second judged, about three
    /// seconds earlier.
    fn news(&self, second: &Second, running: &Running) -> Feedback {
        let region = match self.step().task {
            Task::Finish => return Feedback::Finished,
            Task::WarmUp => None,
            Task::Hold(region) => Some(region),
        };
        if let Some(reason) = unfit(second, running) {
            return Feedback::Not(reason);
        }
        let Some(region) = region else {
            return Feedback::Finished; // warm
        };
        let misplaced = misplaced(region, &self.hold(region), running);
        match misplaced.or_else(|| unsteady(region, second)) {
            Some(_)
                if misplaced.is_some()
                    && let Some(other) = self.other(region, second) =>
            {
                Feedback::ForAnother(other)
            }
            Some(reason) => Feedback::Not(reason),
            None if !self.fits(region, second) => Feedback::Not(Reason::Settling),
            None => self.compared(region, second),
        }
    }

    /// The title of another open step for which a second counts.
    fn other(&self, region: Region, second: &Second) -> Option<&'static str> {
        let mut others = STEPS.iter().enumerate();
        let other = others.find(|(index, step)| match step.task {
            Task::Hold(other) if other != region => {
                let wanted = !self.is_done(*index) && !self.is_skipped(*index);
                wanted && self.fits(other, second) && self.adds(*index, other, second)
            }
            _ => false,
        });
        other.map(|(_, step)| step.title)
    }

    /// Whether a second that counts can be matched with earlier ones, where that is required.
    fn compared(&self, region: Region, second: &Second) -> Feedback {
        if self.adds(self.current, region, second) {
            return Feedback::Counts;
        }
        let wanted = self.coverage.as_ref().map(Coverage::wanted_cells);
        let mut wanted = wanted.into_iter().flatten();
        let here = wanted.find(|cell| cell.region == region);
        Feedback::Elsewhere {
            wanted: here.map(|cell| (cell.region, cell.cell)),
        }
    }

    /// Whether a second that fits advances the step: where earlier captures are followed, only if it can be matched.
    fn adds(&self, index: usize, region: Region, second: &Second) -> bool {
        let again = self.held.get(index).and_then(|held| held.again_until);
        match &self.coverage {
            Some(coverage) if again.is_none() && self.against(region) == Against::Earlier => {
                let cell = second.cell;
                cell.is_some_and(|cell| coverage.can_match(region, cell))
            }
            _ => true,
        }
    }
}

/// Labels that occur only with a warm engine.
fn is_warm(label: Label) -> bool {
    match label {
        Label::EngineOff | Label::Stale | Label::Implausible | Label::Cold => false,
        Label::OpenLoop | Label::FuelCut | Label::Transient | Label::Relearn | Label::Used => true,
    }
}

/// Why a second does not count for any region; `None` when it counts, or is merely outside every region.
pub fn reason_against(second: &Second) -> Option<Reason> {
    unfit(second, &second.running).or_else(|| {
        let region = second.region.unwrap_or(Region::LightCruise);
        unsteady(region, second)
    })
}

/// What keeps a second from counting in any region.
fn unfit(second: &Second, running: &Running) -> Option<Reason> {
    match second.label {
        Label::EngineOff => Some(Reason::EngineOff),
        Label::Stale => Some(Reason::NoReadings),
        Label::Implausible => Some(Reason::Implausible),
        Label::Cold => Some(Reason::Cold {
            coolant_c: running.coolant_c.or(second.running.coolant_c),
        }),
        _ => None,
    }
}

/// What keeps a second from counting in this region.
fn unsteady(region: Region, second: &Second) -> Option<Reason> {
    match second.label {
        Label::OpenLoop => Some(Reason::OpenLoop {
            pulling: region == Region::Loaded,
        }),
        Label::FuelCut => Some(Reason::Overrun),
        Label::Transient => Some(Reason::Moving {
            standing: matches!(region, Region::WarmIdle | Region::RaisedIdle),
        }),
        Label::Relearn => Some(Reason::Relearning),
        _ => None,
    }
}
