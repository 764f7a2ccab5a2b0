//! Readings that contradict each other, or that look like a different unit from the one written.

use std::ops::Range;

use crate::vehicle::{Injection, Vehicle};

use super::{
    entry::PRESSURE,
    mistake::Mistake,
    readings::Steps,
    sheet::{Block, Section, Sheet, Written, plain},
};

/// Pressure range of a running rail of port injection, kPa (returnless and vacuum-regulated sets of several
/// manufacturers are in 167–425). Only pressures far outside are queried.
const PORT_RAIL_KPA: [f64; 2] = [150.0, 800.0];
/// Pressure range of any running rail, kPa: direct injection goes up to 500 bar (common practice).
const ANY_RAIL_KPA: [f64; 2] = [150.0, 50_000.0];
/// Factors on the vehicle's own range beyond which a pressure is queried (assumed).
const AROUND_OWN: [f64; 2] = [0.5, 1.8];
/// Largest ratio by which heat after switching off can raise the pressure (common practice).
const MOST_RISE: f64 = 1.3;
/// Pressure drop of a balance test, kPa, below which all injectors together look like psi (factory examples drop by 39
/// to 99 kPa).
const SMALL_DROP_KPA: f64 = 15.0;
/// Winding resistances, ohms as written, that look like kilo-ohms: below the second and above the first (assumed; 5 to
/// 30 Ω).
const KILO_OHMS: [f64; 2] = [0.005, 0.03];

/// Compares the entries of a sheet with each other and returns the mistakes.
pub fn find(text: &str, sheet: &Sheet, vehicle: &Vehicle) -> Vec<Mistake> {
    let mut search = Search {
        text,
        mistakes: Vec::new(),
    };
    search.rail(&sheet.rail, vehicle);
    let rail_kpa = sheet.rail.get("pressure");
    let steps = Steps::of(&sheet.general);
    for block in &sheet.injectors {
        search.drop(&block.entries, rail_kpa);
        search.open_winding(block, &steps);
    }
    search.volume_times(sheet);
    search.small_drops(sheet);
    search.kilo_ohms(sheet);
    search.mistakes
}

struct Search<'a> {
    text: &'a str,
    mistakes: Vec<Mistake>,
}

impl Search<'_> {
    fn fault(&mut self, place: &Range<usize>, what: String) {
        self.mistakes.push(Mistake::at(self.text, place, what));
    }

    fn rail(&mut self, rail: &Section, vehicle: &Vehicle) {
        for stem in ["pressure", "loaded"] {
            if let Some(written) = rail.get(stem) {
                self.other_unit(stem, written, vehicle);
            }
        }
        let Some((first, later)) = rail.get("pressure").zip(rail.get("after_ten_minutes")) else {
            return;
        };
        if later.value > MOST_RISE * first.value.max(1.0) {
            let what = format!(
                "{} after {}: the pressure cannot rise that far with the pump off. Were they swapped, or read in \
                 different units?",
                said(later),
                said(first)
            );
            self.fault(&later.place, what);
        }
    }

    /// Queries a pressure that would be usual in a different unit and is unusual in its own.
    fn other_unit(&mut self, stem: &str, written: &Written, vehicle: &Vehicle) {
        let [low, high] = match (vehicle.rail_kpa, vehicle.injection) {
            (Some([low, high]), _) => [AROUND_OWN[0] * low, AROUND_OWN[1] * high],
            (None, Some(Injection::Direct)) => ANY_RAIL_KPA,
            // so high it may be direct injection; psi are queried all the same, as 380 psi is a usual 380 kPa
            (None, None) if written.value > PORT_RAIL_KPA[1] && !written.key.ends_with("_psi") => {
                ANY_RAIL_KPA
            }
            (None, _) => PORT_RAIL_KPA,
        };
        let likely = |kpa: f64| (low..=high).contains(&kpa);
        if likely(written.value) {
            return;
        }
        let others: Vec<String> = PRESSURE
            .iter()
            .filter(|unit| {
                !written.key.ends_with(unit.suffix) && likely(written.number * unit.factor)
            })
            .map(|unit| format!("{stem}{} = {}", unit.suffix, plain(written.number)))
            .collect();
        if others.is_empty() {
            return;
        }
        // the same pressure in a unit that nobody will doubt
        let sure = if written.key.ends_with("_bar") {
            format!("{stem}_psi = {}", plain(written.value / 6.894_757))
        } else {
            format!("{stem}_bar = {}", plain(written.value / 100.0))
        };
        let what = format!(
            "{} is hardly possible; was it {}? If it really reads that, write {sure}",
            said(written),
            others.join(" or "),
        );
        self.fault(&written.place, what);
    }

    /// Reports an open winding together with a reading that only a working injector can give. A difference of one
    /// instrument step is left to the verdict on the readings.
    fn open_winding(&mut self, block: &Block, steps: &Steps) {
        let Block {
            entries, cylinder, ..
        } = block;
        let open = entries.get("ohms");
        let Some(open) = open.filter(|ohms| ohms.value.is_infinite()) else {
            return;
        };
        let read = |stem, step| {
            let written = entries.get(stem).filter(|written| written.value > step);
            written.map(said)
        };
        let fell = || {
            let (start, end) = entries.get("start").zip(entries.get("end"))?;
            let fell = start.value - end.value > steps.gauge_kpa;
            fell.then(|| format!("{}, {}", said(start), said(end)))
        };
        let works = [
            ("click", read("click", 0.0)),
            ("deliver fuel", read("volume", steps.glass_ml)),
            (
                "make the pressure drop",
                read("drop", steps.gauge_kpa).or_else(fell),
            ),
        ];
        let mut works = works.into_iter();
        if let Some((verb, other)) = works.find_map(|(verb, other)| Some((verb, other?))) {
            let what = format!(
                "cylinder {cylinder}: an injector whose winding is open cannot {verb} ({other}); \
                 measure the winding again at its own pins"
            );
            self.fault(&open.place, what);
        }
    }

    fn drop(&mut self, entries: &Section, rail_kpa: Option<&Written>) {
        let (start, end) = (entries.get("start"), entries.get("end"));
        match (entries.get("drop"), start, end) {
            (Some(drop), Some(other), _) | (Some(drop), _, Some(other)) => {
                let what = format!(
                    "{} and {} say the same thing twice: keep the drop, or start and end",
                    said(drop),
                    said(other)
                );
                self.fault(&drop.place, what);
            }
            (None, Some(start), Some(end)) if end.value > start.value => {
                let what = format!(
                    "{} after {}: the pulses cannot raise the pressure. Were they swapped?",
                    said(end),
                    said(start)
                );
                self.fault(&end.place, what);
            }
            (None, Some(lonely), None) | (None, None, Some(lonely)) => {
                let what = format!("{} needs both start and end", said(lonely));
                self.fault(&lonely.place, what);
            }
            _ => {}
        }
        let over = |drop: &&Written, rail: &Written| drop.value > rail.value;
        if let Some((drop, rail)) = entries.get("drop").zip(rail_kpa)
            && over(&drop, rail)
        {
            let what = format!(
                "{} is more than the rail holds ({}): write the drop, not what is left, and check the units",
                said(drop),
                said(rail)
            );
            self.fault(&drop.place, what);
        }
    }

    /// Reports volumes that cannot be compared because the bench ran for different times.
    fn volume_times(&mut self, sheet: &Sheet) {
        if sheet.general.contains_key("volume_time") {
            return;
        }
        let with_volume = |block: &&Block| block.entries.contains_key("volume");
        let blocks: Vec<&Block> = sheet.injectors.iter().filter(with_volume).collect();
        let timed = |block: &&&Block| block.entries.contains_key("volume_time");
        let untimed = blocks.iter().find(|block| !timed(block));
        if let Some(block) = untimed.filter(|_| blocks.iter().any(|block| timed(&block))) {
            let what = format!(
                "cylinder {}: its volume has no volume_time_s, the others have; write it there, or once for all at \
                 the top of the form",
                block.cylinder
            );
            self.fault(&block.place, what);
        }
    }

    fn small_drops(&mut self, sheet: &Sheet) {
        let drops: Vec<&Written> = sheet
            .injectors
            .iter()
            .filter_map(|block| block.entries.get("drop"))
            .collect();
        let looks_like_psi =
            |drop: &&Written| drop.key.ends_with("_kpa") && drop.value < SMALL_DROP_KPA;
        let mean = drops.iter().map(|drop| drop.value).sum::<f64>() / drops.len().max(1) as f64;
        if drops.len() > 1
            && drops.iter().all(looks_like_psi)
            && mean > 3.0
            && let Some(first) = drops.first()
        {
            let what = format!(
                "all drops are below {} kPa: was it drop_psi? If they really read that, write drop_bar = {}",
                plain(SMALL_DROP_KPA),
                first.value / 100.0
            );
            self.fault(&first.place, what);
        }
    }

    fn kilo_ohms(&mut self, sheet: &Sheet) {
        let coils: Vec<&Written> = sheet
            .injectors
            .iter()
            .filter_map(|block| block.entries.get("ohms"))
            .collect();
        let kilo = |ohms: &&Written| (KILO_OHMS[0]..=KILO_OHMS[1]).contains(&ohms.value);
        if coils.iter().all(kilo)
            && let Some(first) = coils.first()
        {
            let what = format!(
                "{}: was it kilo-ohms? {} kΩ is ohms = {}; a real short reads 0",
                said(first),
                first.value,
                plain(1000.0 * first.value)
            );
            self.fault(&first.place, what);
        }
    }
}

fn said(written: &Written) -> String {
    match written.key.as_str() {
        key @ ("click" | "pulse") => format!("{key} = {}", written.value > 0.0),
        key => format!("{key} = {}", written.number),
    }
}
