//! What an examination is told on its command line.

/// Gives every `name=value` to `take`, which says whether it can do with it. `cargo bench` adds an argument of its own.
///
/// # Panics
/// At an argument that it cannot do with; `expected` says what there is.
pub fn take_each(expected: &str, mut take: impl FnMut(&str, &str) -> bool) {
    let arguments = std::env::args().skip(1);
    for argument in arguments.filter(|text| !text.starts_with("--")) {
        let taken = argument
            .split_once('=')
            .is_some_and(|(name, value)| take(name, value));
        assert!(taken, "{argument}: expected {expected}");
    }
}
