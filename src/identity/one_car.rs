//! Whether what is to be judged together, or filed together, can be of one car.

use super::{CarIdentity, Difference, Likeness};

/// Largest number of cars named one by one (assumed).
const MOST_NAMED: usize = 3;

/// A car as one source knows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sighting {
    /// The capture, or the port that the car is plugged in at.
    pub source: String,
    /// What it knows.
    pub car: CarIdentity,
}

/// What somebody wrote down about the car.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Described {
    /// Where it is written.
    pub source: String,
    /// Number of cylinders.
    pub cylinders: u8,
}

/// Proof that there are several cars, or that a description is of another one.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum OtherCar {
    /// Vehicle identification numbers differ.
    #[error("{} cars, not one: {}", in_words(*count), has.join(", "))]
    Numbers {
        /// How many numbers there are.
        count: usize,
        /// Which source has which number; the first few.
        has: Vec<String>,
    },
    /// The description is of another engine.
    #[error("{0}")]
    Description(String),
}

impl OtherCar {
    /// What the person can do now.
    pub const fn next_step(&self) -> &'static str {
        match self {
            Self::Numbers { .. } => {
                "diagnose each car by itself (move the other car's captures out of the job), or add --same-car if it is \
                 one car whose controller was replaced"
            }
            Self::Description(_) => {
                "correct the number of cylinders, name this car's file with --vehicle, or add --same-car to go on \
                 anyway"
            }
        }
    }

    /// What --same-car overrules, as a sentence for the finding.
    fn overruled(&self) -> String {
        let proof = match self {
            Self::Numbers { has, .. } => has.join(" and "),
            Self::Description(proof) => proof.clone(),
        };
        format!("Treated as one car because of --same-car, although {proof}.")
    }
}

fn in_words(count: usize) -> String {
    match count {
        2 => "two".to_owned(),
        many => many.to_string(),
    }
}

/// Checks that all sightings, and the description, can be of one car; gives the doubts that remain, in sentences. With
/// `same_car` somebody vouches for it: then nothing is refused, and what speaks against it becomes a sentence.
///
/// # Errors
/// Proof that they are of several cars.
pub fn check(
    seen: &[Sighting],
    described: Option<&Described>,
    same_car: bool,
) -> Result<Vec<String>, OtherCar> {
    let engine = described.and_then(|described| other_engine(seen, described));
    let proofs = other_numbers(seen).into_iter().chain(engine);
    let mut said = Vec::new();
    for proof in proofs {
        if !same_car {
            return Err(proof);
        }
        said.push(proof.overruled());
    }
    if let Some(doubt) = doubt(seen) {
        said.push(if same_car {
            format!("Treated as one car because of --same-car, although {doubt}.")
        } else {
            format!("{doubt}. If this is one car, say so with --same-car.")
        });
    }
    Ok(said)
}

/// The first source of each identification number, when there are several numbers.
fn other_numbers(seen: &[Sighting]) -> Option<OtherCar> {
    let mut numbers: Vec<(&str, &str)> = Vec::new();
    for sighting in seen {
        if let Some(vin) = &sighting.car.vin
            && numbers.iter().all(|(_, known)| known != vin)
        {
            numbers.push((&sighting.source, vin));
        }
    }
    let count = numbers.len();
    let named = numbers.iter().take(MOST_NAMED);
    let has = named.map(|(source, vin)| format!("{source} has VIN {vin}"));
    (count > 1).then(|| OtherCar::Numbers {
        count,
        has: has.collect(),
    })
}

/// The first source whose misfire counters the described engine cannot have.
fn other_engine(seen: &[Sighting], described: &Described) -> Option<OtherCar> {
    let Described { source, cylinders } = described;
    let counters = |sighting: &Sighting| sighting.car.misfire_counters();
    let other = seen
        .iter()
        .find(|sighting| counters(sighting).exclude(*cylinders))?;
    Some(OtherCar::Description(format!(
        "{source} says {cylinders} cylinders, but {} has misfire counters for {}",
        other.source,
        counters(other).highest()
    )))
}

/// The first two that look different. A sighting that fits another recording of the same car leaves no doubt: the
/// controller was reprogrammed in between.
fn doubt(seen: &[Sighting]) -> Option<String> {
    let explained = |one: &CarIdentity, other: &CarIdentity| {
        seen.iter().any(|third| {
            third.car.compared_with(one) == Likeness::Same
                && third.car.compared_with(other) == Likeness::Unknown
        })
    };
    let mut pairs = (1..).zip(seen).flat_map(|(next, one)| {
        let others = seen.get(next..).unwrap_or_default().iter();
        others.map(move |other| (one, other))
    });
    pairs.find_map(|(one, other)| {
        let Likeness::LooksDifferent(differences) = one.car.compared_with(&other.car) else {
            return None;
        };
        let doubtful = !explained(&one.car, &other.car) && !explained(&other.car, &one.car);
        doubtful.then(|| sentence(&one.source, &other.source, &differences))
    })
}

fn sentence(one: &str, other: &str, differences: &[Difference]) -> String {
    let differences: Vec<String> = differences.iter().map(ToString::to_string).collect();
    format!(
        "{one} and {other} look like two cars, or like one whose controller was replaced or reprogrammed ({})",
        differences.join("; ")
    )
}
