//! Healthy cars accused of an injector.

use pintle::cause::Cause;

use crate::{
    confusion::share,
    verdict::{Verdict, leading},
};

pub fn print(verdicts: &[Verdict]) {
    let healthy: Vec<&Verdict> = verdicts
        .iter()
        .filter(|v| v.truth == Cause::NoneFound)
        .collect();
    if healthy.is_empty() {
        return;
    }
    let accused = |v: &&&Verdict| {
        let first = leading(&v.told);
        Cause::ALL[first].is_injector() && v.told[first] > 0.5
    };
    let injector = healthy.iter().map(|v| v.diagnosis.injector_probability());
    println!(
        "\nhealthy cars: {:.3} called an injector fault (leading and above 0.5), mean injector \
         probability {:.3}, {:.3} with nothing found leading",
        share(healthy.iter().map(|v| accused(&v))),
        injector.sum::<f64>() / healthy.len() as f64,
        share(healthy.iter().map(|v| leading(&v.told) == 0)),
    );
}
