//! What could not be determined, and why.

use maud::Markup;

use super::{content::Content, section, sentences};
use crate::{
    diagnose::{Diagnosis, diagnosis::MisfireSource},
    report::warning_words,
    series::label::region::Region,
};

pub(super) fn part(content: &Content) -> Markup {
    let mut said: Vec<String> = Vec::new();
    for (word, found) in ["Before", "After"].into_iter().zip(content.diagnoses()) {
        if let Some(found) = found {
            said.extend(of_side(found).map(|what| format!("{word} the work: {what}")));
        }
    }
    if content
        .diagnoses()
        .into_iter()
        .flatten()
        .all(|found| found.bench.is_none())
    {
        said.push("No readings were taken by hand: injector windings, flow and fuel pressure are judged from the car's own \
             data alone.".to_owned());
    }
    if content.visit.vehicle.cylinder_count().is_none() {
        said.push("The number of cylinders was not stated.".to_owned());
    }
    section("unknown", "What could not be determined", &sentences(said))
}

fn of_side(found: &Diagnosis) -> impl Iterator<Item = String> {
    let visited = |region: Region| found.trims.iter().any(|trim| trim.region == region);
    let missing: Vec<&str> = Region::ALL
        .into_iter()
        .filter(|region| !visited(*region))
        .map(Region::words)
        .collect();
    let regions = (!missing.is_empty() && found.not_judged.is_none())
        .then(|| format!("nothing was recorded at {}.", missing.join(", ")));
    let counters = (found.misfires.source != MisfireSource::Counters).then(|| {
        "the car reports no misfire counts, so the cylinders can hardly be told apart.".to_owned()
    });
    let warnings = found.warnings.iter().map(warning_words::words);
    regions.into_iter().chain(counters).chain(warnings)
}
