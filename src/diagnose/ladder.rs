//! The order of treatments with the least expected cost: each rung's price times the probability that it is still
//! needed.
//!
//! A stronger treatment cures whatever a milder one cures, so the probability of each rung includes the milder ones. A
//! way through the ladder begins with one rung and goes on with stronger ones. It ends where failure has made the
//! injectors less probable than another cause: then checking comes before more money.

/// One rung of the ladder for this car, given that the injectors are the cause.
#[derive(Debug, Clone, Copy)]
pub struct Rung {
    /// Parts and labour, in the currency of the price table.
    pub cost: f64,
    /// Probability that this rung or a milder one is enough, 0 to 1.
    pub enough: f64,
}

/// A way through the ladder.
#[derive(Debug, Clone, PartialEq)]
pub struct Sequence {
    /// Expected cost, in the currency of the price table.
    pub cost: f64,
    /// Indexes of the rungs, in order.
    pub rungs: Vec<usize>,
}

/// The way of least expected cost that begins with rung `first`, after others that were enough with probability
/// `before`; each further rung is stronger than the one it follows.
pub fn cheapest_sequence(rungs: &[Rung], first: usize, before: f64) -> Sequence {
    let Some(rung) = rungs.get(first) else {
        return Sequence {
            cost: 0.0,
            rungs: Vec::new(),
        };
    };
    let reached = rung.enough.max(before);
    let stronger = (first + 1..rungs.len())
        .filter(|next| rungs.get(*next).is_some_and(|r| r.enough > reached));
    let onward = stronger
        .map(|next| cheapest_sequence(rungs, next, reached))
        .min_by(|a, b| a.cost.total_cmp(&b.cost));
    let mut sequence = onward.unwrap_or(Sequence {
        cost: 0.0,
        rungs: Vec::new(),
    });
    sequence.cost += (1.0 - before) * rung.cost;
    sequence.rungs.insert(0, first);
    sequence
}

/// Probabilities of the injectors and of another explanation after a treatment has failed. `injectors` and `other` are
/// their probabilities before, `enough` the probability that the treatment cures the injectors.
pub fn after_failure(injectors: f64, enough: f64, other: f64) -> [f64; 2] {
    let failed = (1.0 - injectors * enough).max(1e-9);
    [injectors * (1.0 - enough) / failed, other / failed]
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn rung(cost: f64, enough: f64) -> Rung {
        Rung { cost, enough }
    }

    /// By hand, with an additive (20, enough 0.2), a cleaning (100, 0.6) and replacing (300, 1):
    /// from the cleaning 100 and 0.4 of 300 make 220; from the additive 20, 0.8 of 100 and 0.4 of
    /// 300 make 220, and straight on to replacing 20 and 0.8 of 300 make 260.
    #[test]
    fn the_expected_cost_adds_what_is_still_needed() {
        let rungs = [rung(20.0, 0.2), rung(100.0, 0.6), rung(300.0, 1.0)];
        let sequence = |first| cheapest_sequence(&rungs, first, 0.0);
        assert!((sequence(1).cost - 220.0).abs() < 1e-9);
        assert!((sequence(0).cost - 220.0).abs() < 1e-9);
        assert!((sequence(2).cost - 300.0).abs() < 1e-9);
        assert_eq!(sequence(1).rungs, [1, 2]);
        assert_eq!(sequence(0).rungs, [0, 1, 2]);
    }

    /// A rung that adds nothing is left out, whatever it costs.
    #[test]
    fn a_rung_that_helps_no_more_is_not_climbed() {
        let rungs = [rung(10.0, 0.5), rung(0.0, 0.5), rung(100.0, 0.9)];
        assert_eq!(cheapest_sequence(&rungs, 0, 0.0).rungs, [0, 2]);
    }

    /// Bayes by hand: 0.6 for the injectors, a cleaning that helps in 0.75 of such cases and did not: 0.15 of 0.55 are
    /// left, 27 %; another cause of 0.3 has become 0.3 / 0.55 = 55 %.
    #[test]
    fn a_failure_speaks_against_the_injectors() {
        let [injectors, other] = after_failure(0.6, 0.75, 0.3);
        assert!((injectors - 0.15 / 0.55).abs() < 1e-12);
        assert!((other - 0.3 / 0.55).abs() < 1e-12);
    }
}
