//! What a capture amounts to as plain numbers, with what was told, for `anchor.py`: how well could a machine that learns
//! from the drawn cars themselves do?

use std::{
    fs::File,
    io::{BufWriter, Write},
};

use pintle::{
    cause::Cause,
    diagnose::Priors,
    series::{
        label::region::Region,
        summary::{CodeList, MisfireSummary, Summary},
    },
    vehicle::{AirMetering, Injection},
};

use crate::{case::Case, verdict::Verdict};

/// One line a case; what is not known stays empty.
pub fn write(path: &str, cases: &[Case], verdicts: &[Verdict], priors: &Priors) {
    let mut out = BufWriter::new(File::create(path).unwrap());
    let row = |case: &Case, verdict: &Verdict| {
        let mut row = Row::default();
        row.of(case);
        for (kind, odds) in [
            ("reported", verdict.reported),
            ("even", verdict.with_even_priors(priors)),
        ] {
            for (cause, odds) in Cause::ALL.into_iter().zip(odds) {
                row.add(&format!("{kind}_{cause}"), Some(odds));
            }
        }
        row
    };
    let mut head = false;
    for (case, verdict) in cases.iter().zip(verdicts) {
        let row = row(case, verdict);
        if !head {
            writeln!(out, "cause,visible,{}", row.names.join(",")).unwrap();
            head = true;
        }
        let (cause, visible) = (verdict.truth, u8::from(verdict.visible));
        writeln!(out, "{cause},{visible},{}", row.values.join(",")).unwrap();
    }
}

#[derive(Default)]
struct Row {
    names: Vec<String>,
    values: Vec<String>,
}

impl Row {
    fn add(&mut self, name: &str, value: Option<f64>) {
        self.names.push(name.to_owned());
        self.values
            .push(value.map_or_else(String::new, |value| format!("{value:.6}")));
    }

    fn of(&mut self, case: &Case) {
        let summaries = &case.summaries;
        self.car(case);
        for bank in [1, 2] {
            for region in Region::ALL {
                self.fuel_trims(bank, region, summaries);
            }
        }
        for region in Region::ALL {
            self.differences(region, summaries);
            self.operation(region, summaries);
        }
        self.misfires(case);
        self.codes(summaries);
    }

    fn car(&mut self, case: &Case) {
        let vehicle = &case.vehicle;
        let facts = || case.summaries.iter().map(|summary| &summary.facts);
        let any = |seen: bool| Some(f64::from(u8::from(seen)));
        self.add("captures", Some(case.summaries.len() as f64));
        self.add("cylinders", vehicle.cylinder_count().map(f64::from));
        self.add("displacement", vehicle.displacement_l);
        self.add(
            "maf",
            vehicle
                .air_metering
                .map(|metering| f64::from(u8::from(metering == AirMetering::Maf))),
        );
        self.add(
            "direct",
            vehicle
                .injection
                .map(|injection| f64::from(u8::from(injection == Injection::Direct))),
        );
        self.add("flow_seen", any(facts().any(|f| f.air_flow_seen)));
        self.add(
            "pressure_seen",
            any(facts().any(|f| f.manifold_pressure_seen)),
        );
        self.add(
            "banks",
            facts().map(|f| f64::from(f.banks)).reduce(f64::max),
        );
        self.add("ethanol", facts().find_map(|f| f.ethanol_pct));
        self.add("barometer", facts().find_map(|f| f.barometer_kpa));
        self.add("intake_air", facts().find_map(|f| f.intake_air_c));
        self.add("since_clear", facts().find_map(|f| f.minutes_since_clear));
        self.add("warm_ups", facts().find_map(|f| f.warm_ups_since_clear));
    }

    /// Mean over captures by seconds, its error, time at the stop, and what remains while nothing misfires.
    fn fuel_trims(&mut self, bank: u8, region: Region, summaries: &[Summary]) {
        let trims = summaries.iter().flat_map(|summary| &summary.trims);
        let here: Vec<_> = trims
            .filter(|trim| trim.bank == bank && trim.region == region)
            .collect();
        let seconds: f64 = here.iter().map(|trim| trim.seconds).sum();
        let mean = |value: &dyn Fn(usize) -> f64| {
            let sum: f64 = (0..here.len()).map(|i| here[i].seconds * value(i)).sum();
            (seconds > 0.0).then(|| sum / seconds)
        };
        let name = |what: &str| format!("b{bank}_{}_{what}", region.id());
        self.add(&name("y"), mean(&|i| here[i].mean_log));
        self.add(&name("error"), mean(&|i| here[i].std_error_log));
        self.add(&name("stop"), mean(&|i| here[i].saturated));
        self.add(&name("seconds"), Some(seconds));
        let without = here
            .iter()
            .find_map(|trim| Some((trim, trim.without_misfire?)));
        let drop = without.map(|(trim, (mean, _))| trim.mean_log - mean);
        self.add(&name("misfire_drop"), drop);
    }

    fn differences(&mut self, region: Region, summaries: &[Summary]) {
        let all = summaries
            .iter()
            .flat_map(|summary| &summary.bank_differences);
        let here = all.filter(|difference| difference.region == region);
        let (sum, seconds) = here.fold((0.0, 0.0), |(sum, seconds), difference| {
            (
                sum + difference.mean_log * difference.seconds,
                seconds + difference.seconds,
            )
        });
        let mean = (seconds > 0.0).then(|| sum / seconds);
        self.add(&format!("difference_{}", region.id()), mean);
    }

    fn operation(&mut self, region: Region, summaries: &[Summary]) {
        let mut rows = summaries.iter().flat_map(|summary| &summary.operation);
        let row = rows.rfind(|row| row.region == region);
        let name = |what: &str| format!("{}_{what}", region.id());
        self.add(&name("rpm"), row.map(|row| row.engine_rpm));
        self.add(&name("load"), row.and_then(|row| row.load_pct));
        self.add(&name("manifold"), row.and_then(|row| row.manifold_kpa));
        self.add(&name("air"), row.and_then(|row| row.air_g_per_s));
        self.add(&name("purge"), row.and_then(|row| row.purge_pct));
    }

    /// Rates of the three cylinders with most misfires, and the first one's by region.
    fn misfires(&mut self, case: &Case) {
        let all: Vec<&MisfireSummary> = case
            .summaries
            .iter()
            .filter_map(|summary| summary.misfires.as_ref())
            .collect();
        let revolutions: f64 = all.iter().map(|misfires| misfires.revolutions).sum();
        let rate = |count: f64, revolutions: f64| {
            (revolutions > 0.0).then(|| 1000.0 * count / revolutions)
        };
        let of = |cylinder: u8| {
            let entries = all.iter().flat_map(|misfires| &misfires.cylinders);
            entries.filter(move |entry| entry.cylinder == cylinder)
        };
        let mut counts: Vec<(u8, f64)> = (1..=8)
            .filter(|cylinder| of(*cylinder).next().is_some())
            .map(|cylinder| (cylinder, of(cylinder).map(|entry| entry.count).sum()))
            .collect();
        counts.sort_by(|a, b| b.1.total_cmp(&a.1));
        self.add("counted", (!all.is_empty()).then_some(counts.len() as f64));
        self.add("revolutions", (!all.is_empty()).then_some(revolutions));
        for place in 0..3 {
            let count = counts.get(place).map(|(_, count)| *count);
            let rate = count.and_then(|count| rate(count, revolutions));
            self.add(&format!("misfires_{place}"), rate);
        }
        let sum: f64 = counts.iter().map(|(_, count)| count).sum();
        self.add("misfires_all", rate(sum, revolutions));
        let first = counts.first().map_or(0, |(cylinder, _)| *cylinder);
        for region in Region::ALL {
            let turned: f64 = all.iter().map(|m| m.revolutions_by_region[region]).sum();
            let count: f64 = of(first).map(|entry| entry.count_by_region[region]).sum();
            self.add(&format!("misfires_{}", region.id()), rate(count, turned));
        }
        let mut averages: Vec<f64> = (1..=8)
            .filter_map(|cylinder| {
                of(cylinder)
                    .filter_map(|e| e.average_of_ten)
                    .reduce(f64::max)
            })
            .collect();
        averages.sort_by(|a, b| b.total_cmp(a));
        self.add("average_0", averages.first().copied());
        self.add("average_1", averages.get(1).copied());
        let bank = |place: usize| {
            let cylinder = counts.get(place)?.0;
            case.vehicle
                .bank_of(cylinder)
                .map(|bank| f64::from(bank.number()))
        };
        self.add("bank_of_first", bank(0));
    }

    fn codes(&mut self, summaries: &[Summary]) {
        let seen = |wanted: &dyn Fn(&str) -> bool| {
            let mut codes = summaries.iter().flat_map(|summary| &summary.codes);
            codes.any(|seen| seen.list != CodeList::Permanent && wanted(&seen.code.to_string()))
        };
        let mut add = |name: &str, wanted: &dyn Fn(&str) -> bool| {
            let value = f64::from(u8::from(seen(wanted)));
            self.add(name, Some(value));
        };
        for code in ["P0171", "P0174", "P0172", "P0175", "P0300"] {
            add(code, &|seen| seen == code);
        }
        add("P030x", &|seen| seen.starts_with("P030") && seen != "P0300");
        add("P020x", &|seen| seen.starts_with("P020"));
    }
}
