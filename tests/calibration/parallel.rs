//! All cores at once.

use std::sync::atomic::{AtomicUsize, Ordering};

/// Does a job for every index, on all cores; results in order.
pub fn in_parallel<T: Send>(count: usize, job: impl Fn(usize) -> T + Sync) -> Vec<T> {
    let next = AtomicUsize::new(0);
    let workers = std::thread::available_parallelism().map_or(1, usize::from);
    let work = || {
        let mut done = Vec::new();
        loop {
            let index = next.fetch_add(1, Ordering::Relaxed);
            if index >= count {
                return done;
            }
            done.push((index, job(index)));
        }
    };
    let mut all: Vec<(usize, T)> = std::thread::scope(|scope| {
        let workers: Vec<_> = (0..workers).map(|_| scope.spawn(work)).collect();
        let results = workers
            .into_iter()
            .flat_map(|worker| worker.join().unwrap());
        results.collect()
    });
    all.sort_by_key(|(index, _)| *index);
    all.into_iter().map(|(_, result)| result).collect()
}
