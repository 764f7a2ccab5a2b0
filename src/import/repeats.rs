//! Telling new readings from values that a logger merely repeats because it has not asked again.
//!
//! A logger that asks its items in turn and writes a row more often than it gets round holds every value for several
//! rows. Then no busy column ever changes faster than that: the intervals between changes are one round, two rounds
//! (a reading equal to the one before), and so on. Where rows are all new, changes from row to row are common.

/// Longest interval that is counted separately, rows (assumed).
const LONGEST: usize = 64;

/// Largest number of columns considered: those that change most often (assumed).
const BUSIEST: usize = 6;

/// Smallest number of intervals from which a conclusion is drawn (assumed).
const FEWEST: u32 = 20;

/// How often a column's value changed, by the rows in between.
#[derive(Debug, Clone)]
pub(super) struct ChangeIntervals {
    last: Option<f64>,
    rows_since_change: Option<usize>,
    counts: [u32; LONGEST],
}

impl ChangeIntervals {
    pub const fn new() -> Self {
        Self {
            last: None,
            rows_since_change: None,
            counts: [0; LONGEST],
        }
    }

    /// Takes the column's next value; values while the engine stands say nothing about the logger.
    pub fn push(&mut self, value: f64, running: bool) {
        let changed = self.last.replace(value).is_some_and(|last| last != value);
        if !running {
            self.rows_since_change = None;
            return;
        }
        if let Some(rows) = &mut self.rows_since_change {
            *rows += 1;
        }
        if !changed {
            return;
        }
        if let Some(rows) = self.rows_since_change.replace(0)
            && let Some(count) = self.counts.get_mut(rows)
        {
            *count += 1;
        }
    }

    fn changes(&self) -> u32 {
        self.counts.iter().sum()
    }
}

/// Mean number of rows for which a value is held; `None` when all rows are new, or too few changes are known.
pub(super) fn rows_held(columns: &[ChangeIntervals]) -> Option<f64> {
    let mut busiest: Vec<&ChangeIntervals> = columns.iter().collect();
    busiest.sort_by_key(|column| std::cmp::Reverse(column.changes()));
    busiest.truncate(BUSIEST);
    let pooled: Vec<u32> = (0..LONGEST)
        .map(|rows| {
            busiest
                .iter()
                .filter_map(|column| column.counts.get(rows))
                .sum()
        })
        .collect();
    let total: u32 = pooled.iter().sum();
    if total < FEWEST {
        return None;
    }
    let mut so_far = 0;
    let shortest = pooled.iter().position(|count| {
        so_far += count;
        // A twentieth: not led astray by the odd hiccup of a logger.
        so_far * 20 >= total
    })?;
    if shortest < 2 {
        return None;
    }
    let one_round = pooled.iter().enumerate().take(shortest + shortest / 2 + 1);
    let (rows, count) = one_round.fold((0.0, 0.0), |(rows, count), (interval, n)| {
        (
            rows + interval as f64 * f64::from(*n),
            count + f64::from(*n),
        )
    });
    Some(rows / count)
}

/// Decides value by value of one column whether it is a new reading.
#[derive(Debug, Clone)]
pub(super) struct NewReadings {
    rows_held: Option<f64>,
    last: Option<f64>,
    row: f64,
    /// Row after which an equal value was read again.
    due: f64,
}

impl NewReadings {
    pub const fn new(rows_held: Option<f64>) -> Self {
        Self {
            rows_held,
            last: None,
            row: 0.0,
            due: 0.0,
        }
    }

    /// Takes the column's next value; returns whether it is a new reading.
    pub fn is_new(&mut self, value: f64) -> bool {
        let Some(rows_held) = self.rows_held else {
            return true;
        };
        self.row += 1.0;
        if self.last.replace(value) != Some(value) {
            self.due = self.row + rows_held;
            return true;
        }
        // One row of grace: rounds are not all of the same length, and a change at the end of this one is coming yet.
        if self.row >= self.due + 1.0 {
            self.due += rows_held;
            return true;
        }
        false
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Values as a logger shows them that needs `rounds` rows (in turn) to ask everything.
    fn shown(readings: &[f64], rounds: &[usize]) -> Vec<f64> {
        let lengths = rounds.iter().cycle();
        readings
            .iter()
            .zip(lengths)
            .flat_map(|(value, rows)| vec![*value; *rows])
            .collect()
    }

    fn held(values: &[f64]) -> Option<f64> {
        let mut intervals = ChangeIntervals::new();
        for value in values {
            intervals.push(*value, true);
        }
        rows_held(&[intervals])
    }

    fn wandering(count: usize) -> Vec<f64> {
        // Every fourth reading equals the one before.
        (0..count)
            .map(|n| ((n - usize::from(n % 4 == 3)) * 37 % 101) as f64)
            .collect()
    }

    #[test]
    fn values_held_for_three_or_four_rows_are_counted_once_a_round() {
        let readings = wandering(400);
        let values = shown(&readings, &[4, 3, 4, 4, 3]);
        let rows_held = held(&values).unwrap();
        assert!((rows_held - 3.6).abs() < 0.1, "{rows_held}");
        let mut column = NewReadings::new(Some(rows_held));
        let found: Vec<f64> = values
            .into_iter()
            .filter(|value| column.is_new(*value))
            .collect();
        assert_eq!(found, readings);
    }

    #[test]
    fn rows_that_are_all_new_are_all_readings() {
        let readings = wandering(200);
        assert_eq!(held(&readings), None);
        let mut column = NewReadings::new(None);
        assert!(readings.iter().all(|value| column.is_new(*value)));
    }

    #[test]
    fn a_standing_engine_or_too_few_changes_tell_nothing() {
        assert_eq!(held(&[1.0; 500]), None);
        assert_eq!(held(&shown(&wandering(10), &[4])), None);
    }
}
