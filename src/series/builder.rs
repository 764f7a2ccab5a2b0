//! Observations in, summary out; one at a time, so that a live recording and a file read back are treated alike.

use crate::bank::Bank;
use pintle_protocol::{Pid, dtc::TroubleCode};

use crate::{
    capture::Header,
    identity::CarIdentity,
    quantity,
    series::{
        gather::{
            cell::Cell,
            contrast::MisfireContrast,
            drift::DriftWatch,
            facts::FactFinder,
            fuel_trim::{FuelTrims, trims_log},
            grid::Cells,
            misfire::MisfireWatch,
            misfire_frame::{MisfireFrame, is_misfire},
            operation::Operations,
            purge::PurgeWatch,
            rail::Rail,
            refuel::RefuellingWatch,
        },
        label::{
            Label,
            labeller::Labeller,
            region::{Region, region_of},
        },
        observation::Observation,
        summary::{CodeSeen, Dropped, Seconds, Summary},
        timeline::{
            course::{Course, Running, Second},
            moment::{Moment, Timeline},
            outlier::Outliers,
            quantity::Quantity,
        },
        warnings::{WarningInputs, warnings},
    },
};

/// Builds the [`Summary`] of one capture. Memory does not grow with its length.
#[derive(Debug, Clone)]
pub struct Builder {
    timeline: Timeline,
    outliers: Outliers,
    tally: Tally,
    codes: Vec<CodeSeen>,
    misfire_frame: Option<MisfireFrame>,
}

/// Running results from the moments so far.
#[derive(Debug, Clone, Default)]
struct Tally {
    labeller: Labeller,
    seconds: Seconds,
    fuel_trims: FuelTrims,
    relearning: FuelTrims,
    cells: Cells,
    misfires: MisfireWatch,
    contrast: MisfireContrast,
    operations: Operations,
    rail: Rail,
    purge: PurgeWatch,
    drift: DriftWatch,
    refuelling: RefuellingWatch,
    facts: FactFinder,
    /// The trip's course; `None` unless it is kept.
    course: Option<Course>,
}

impl Default for Builder {
    fn default() -> Self {
        Self::new()
    }
}

impl Builder {
    /// A builder without observations.
    pub fn new() -> Self {
        Self {
            timeline: Timeline::new(),
            outliers: Outliers::default(),
            tally: Tally::default(),
            codes: Vec::new(),
            misfire_frame: None,
        }
    }

    /// A builder without observations that also keeps the trip's course.
    pub fn keeping_course() -> Self {
        let mut builder = Self::new();
        builder.tally.course = Some(Course::default());
        builder
    }

    /// Takes one observation. Observations come in the order of their times; an earlier time counts as no later.
    #[inline]
    pub fn push(&mut self, observation: Observation) {
        if self.timeline.passes(observation.t_us) {
            self.advance();
        }
        if !observation.value.is_finite() {
            return;
        }
        if let Some(number) = Quantity::number_of(observation.item) {
            let Observation { t_us, value, .. } = observation;
            for value in self
                .outliers
                .believed(number, t_us, value)
                .into_iter()
                .flatten()
            {
                self.timeline.record(number, value);
            }
        } else {
            let second = self.timeline.second();
            let Observation { item, value, .. } = observation;
            self.tally.facts.car.take_reading(item);
            self.tally.misfires.read(second, item, value);
        }
    }

    /// Notes that stored or pending codes were requested and answered, whether there were any or none.
    pub const fn push_codes_asked(&mut self) {
        self.tally.facts.codes_asked = true;
    }

    /// Notes a trouble code; a repeated one counts once.
    pub fn push_code(&mut self, code: CodeSeen) {
        if !self.codes.contains(&code) {
            self.codes.push(code);
        }
    }

    /// Notes that the freeze frame belongs to this code; its values follow. A frame of a code other than misfire is not
    /// kept.
    pub fn push_frozen_code(&mut self, code: TroubleCode) {
        let known = self.misfire_frame.as_ref().map(|frame| frame.code.clone());
        if known != Some(code.to_string()) {
            self.misfire_frame = is_misfire(code).then(|| MisfireFrame::of(code));
        }
    }

    /// Takes a value of the freeze frame: the data bytes of a parameter.
    pub fn push_frozen_value(&mut self, pid: Pid, data: &[u8]) {
        if let Some(frame) = &mut self.misfire_frame {
            frame.take(pid, data);
        }
    }

    /// Notes the start of the recording and the car.
    pub fn push_header(&mut self, header: &Header) {
        self.tally.facts.started = header.started;
        self.tally.facts.car = header.car();
    }

    /// The car's identity as far as known.
    pub const fn car_mut(&mut self) -> &mut CarIdentity {
        &mut self.tally.facts.car
    }

    /// The seconds judged since the last call, in order, the latest about three seconds ago; silent stretches are left
    /// out. Draining them as they come keeps memory from growing. Empty unless the course is kept.
    pub fn drain_course(&mut self) -> impl Iterator<Item = Second> {
        let course = self.tally.course.as_mut();
        course
            .into_iter()
            .flat_map(|course| course.seconds.drain(..))
    }

    /// Present state of the engine, from the latest readings that are not too old.
    pub fn running(&self) -> Running {
        Running::by(|quantity| self.timeline.latest(quantity))
    }

    /// Summary of the observations so far, without the latest three seconds or so.
    pub fn snapshot(&self) -> Summary {
        let mut summary = self.tally.summary();
        summary.codes.clone_from(&self.codes);
        summary.misfire_frame.clone_from(&self.misfire_frame);
        summary.dropped = self.dropped();
        summary.warnings = warnings(&summary, self.warning_inputs());
        summary
    }

    fn dropped(&self) -> Vec<Dropped> {
        let of_quantities = self.outliers.dropped().filter_map(|(number, readings)| {
            let quantity = quantity::name(Quantity::item_of(number)?)?;
            Some(Dropped { quantity, readings })
        });
        let of_counters = Dropped {
            quantity: "misfire counters".to_owned(),
            readings: self.tally.misfires.dropped(),
        };
        of_quantities
            .chain((of_counters.readings > 0).then_some(of_counters))
            .collect()
    }

    fn warning_inputs(&self) -> WarningInputs {
        let seen = |quantity| self.timeline.seen(quantity);
        WarningInputs {
            engine_speed_seen: seen(Quantity::EngineSpeed),
            trim_seen: Bank::ALL.map(Quantity::short_trim).into_iter().any(seen),
            coolant_lacked: self.tally.labeller.lacked_coolant(),
            counters_in_blocks: self.tally.misfires.moves_in_blocks(),
            counter_at_end: self.tally.misfires.is_saturated(),
        }
    }

    /// Summary of all observations.
    pub fn finish(self) -> Summary {
        self.finish_with_course().0
    }

    /// Summary of all observations and the trip's course, which is empty unless it was kept.
    pub fn finish_with_course(mut self) -> (Summary, Course) {
        if self.timeline.is_open() {
            self.timeline.close_now();
            self.tally.judge(&self.timeline, Timeline::REACH);
            self.flush();
        }
        self.tally.misfires.settle();
        let summary = self.snapshot();
        (summary, self.tally.course.take().unwrap_or_default())
    }

    #[cold]
    fn advance(&mut self) {
        while self.timeline.close() {
            self.tally.judge(&self.timeline, Timeline::REACH);
            if self.timeline.is_silent() {
                self.flush();
                let seconds = self.timeline.skip_silence();
                self.tally.seconds.add(Label::Stale, seconds as f64);
                let interval_us = self.timeline.interval_us(Quantity::EngineSpeed);
                self.tally.misfires.exposure.gap(seconds, interval_us);
            }
        }
    }

    /// Judges the latest moments with the neighbours that they have.
    fn flush(&mut self) {
        for back in (0..Timeline::REACH).rev() {
            self.tally.judge(&self.timeline, back);
        }
    }
}

impl Tally {
    fn judge(&mut self, timeline: &Timeline, back: usize) {
        let Some(window) = timeline.window(back) else {
            return;
        };
        let moment = window.now;
        let region = region_of(moment);
        let label = self.labeller.label(&window, region);
        self.seconds.add(label, 1.0);
        self.facts.push(moment, label);
        self.refuelling.moment(moment, label);
        if let Some(course) = &mut self.course {
            course.seconds.push(Second {
                second: moment.second,
                label,
                region,
                cell: Cell::of(moment),
                running: Running::of(moment),
                trim_log: trims_log(moment),
            });
        }
        match label {
            Label::Used => self.count(moment, region),
            Label::Relearn => self.relearning.push(moment, region, |_, _| ()),
            _ => {}
        }
        let engine_rpm = moment.get(Quantity::EngineSpeed);
        let interval_us = timeline.interval_us(Quantity::EngineSpeed);
        self.misfires
            .exposure
            .moment(engine_rpm, label, region, interval_us);
        if let Some(round) = self.misfires.moment(moment.second) {
            self.contrast.settle(round);
        }
    }

    /// Takes a moment that counts.
    fn count(&mut self, moment: &Moment, region: Option<Region>) {
        let cell = Cell::of(moment);
        let (mut sum, mut banks) = (0.0, 0.0);
        self.fuel_trims.push(moment, region, |bank, y| {
            (sum, banks) = (sum + y, banks + 1.0);
            if let Some(cell) = cell {
                self.cells.push(bank, cell, region, y);
            }
            if let Some(region) = region {
                self.contrast.push(bank, region, y);
                self.refuelling.push(bank, region, y);
            }
        });
        if let Some(region) = region {
            if banks > 0.0 {
                self.purge.push(moment, region, sum / banks);
                self.drift.push(moment.second, region, sum / banks);
            }
            self.operations.push(moment, region);
            self.rail.push(moment, region);
        }
    }

    fn summary(&self) -> Summary {
        let mut summary = Summary {
            seconds: self.seconds,
            trims: self.fuel_trims.trims(),
            relearning: self.relearning.trims(),
            cells: self.cells.summary(),
            bank_differences: self.fuel_trims.differences(),
            operation: self.operations.summary(),
            rail: self.rail.summary(),
            purge: self.purge.summary(),
            drift: self.drift.summary(),
            refuelling: self.refuelling.summary(),
            misfires: self.misfires.summary(),
            facts: self.facts.facts(),
            ..Summary::default()
        };
        if self.misfires.count_at_once() {
            self.contrast.complete(&mut summary.trims);
        }
        leave_out(&mut summary);
        let trims = summary.trims.iter().chain(&summary.relearning);
        let banks = trims.map(|trim| trim.bank);
        summary.facts.banks = banks.max().unwrap_or(0);
        summary
    }
}

/// Removes trims that are no measurements.
fn leave_out(summary: &mut Summary) {
    let all = summary.facts.not_judged.is_some();
    if all {
        summary.purge.clear();
        summary.drift.clear();
        summary.refuelling = None;
    }
    let copied = &summary.facts.copied_banks;
    let stays = |bank: u8| !all && !copied.contains(&bank);
    summary.trims.retain(|trim| stays(trim.bank));
    summary.relearning.retain(|trim| stays(trim.bank));
    summary.cells.retain(|cell| stays(cell.bank));
    if let Some(refuelling) = &mut summary.refuelling {
        refuelling.moved.retain(|moved| stays(moved.bank));
    }
    summary
        .bank_differences
        .retain(|difference| stays(difference.other));
}
