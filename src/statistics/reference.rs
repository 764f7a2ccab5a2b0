//! Reference values for tests, computed elsewhere (see the script in this directory).

/// The rows of one kind: three arguments and two results, NaN where there is none.
pub fn rows(what: &str) -> Vec<[f64; 5]> {
    let text = include_str!("../../tests/data/statistics_reference.csv");
    let rows: Vec<_> = text
        .lines()
        .filter_map(|line| line.strip_prefix(what)?.strip_prefix(','))
        .map(|line| {
            let mut fields = line
                .split(',')
                .map(|field| field.parse().unwrap_or(f64::NAN));
            std::array::from_fn(|_| fields.next().unwrap())
        })
        .collect();
    assert!(!rows.is_empty(), "no values for {what}");
    rows
}
