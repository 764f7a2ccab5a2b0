//! Tests of the whole program: each module here is for one thing a user does.
#![allow(
    missing_docs,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::print_stdout
)]

mod attack;
mod awkward_cars;
// Pseudo-terminals stand for serial devices here, and not every system has them.
#[cfg(unix)]
mod bay;
mod bench;
#[cfg(unix)]
mod buses;
mod captures;
mod clearing;
mod comparing;
mod demo;
mod diagnosis;
mod dialogues;
#[cfg(target_os = "linux")]
mod examples;
#[cfg(unix)]
mod feed;
mod guided;
mod harness;
mod hostile_files;
#[cfg(unix)]
mod hostile_text;
mod import;
mod job;
#[cfg(unix)]
mod link;
#[cfg(unix)]
mod mishaps;
#[cfg(unix)]
mod newer_cars;
mod one_car;
mod only_reading;
mod plugged_in;
mod real_logs;
#[cfg(unix)]
mod record_command;
#[cfg(unix)]
mod recorded_car;
#[cfg(unix)]
mod recording;
mod refusals;
mod report;
#[cfg(unix)]
mod sampled;
// Closing a terminal and waiting for a program's end without sleeping are done in Linux's way.
#[cfg(target_os = "linux")]
mod screen;
mod simulated_faults;
#[cfg(unix)]
mod trace;
#[cfg(unix)]
mod unfinished;
#[cfg(unix)]
mod watching;
