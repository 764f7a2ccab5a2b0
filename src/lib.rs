//! Tells a dirty fuel injector from everything that looks like one, and proves that the cleaning worked.
//!
//! The rooms, from the front door down; each may use only those below it:
//! [`cli`] → [`live`] → [`report`], [`guide`] → [`diagnose`], [`compare`],
//! [`mod@bench`] → [`export`] → [`series`], [`link`], [`import`], [`job`], [`simulator`] → [`capture`], [`trace`] →
//! [`vehicle`], [`cause`], [`caution`], [`clock`], [`identity`], [`observation`], [`statistics`] and the package `pintle-protocol`.
#![cfg_attr(
    test,
    allow(
        clippy::unwrap_used,
        clippy::expect_used,
        clippy::panic,
        clippy::indexing_slicing
    )
)]

pub mod bank;
pub mod bench;
pub mod capture;
pub mod cause;
pub mod caution;
pub mod cli;
pub mod clock;
pub mod compare;
pub mod diagnose;
mod durable;
mod entries;
pub mod export;
pub mod guide;
pub mod identity;
pub mod import;
mod io_words;
pub mod job;
pub mod link;
pub mod live;
pub mod observation;
mod printable;
pub mod quantity;
pub mod report;
mod rounded;
pub mod series;
pub mod simulator;
mod stamp;
pub mod statistics;
pub mod trace;
pub mod vehicle;
