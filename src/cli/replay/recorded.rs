//! A capture behind a virtual adapter: a recorded car for the other commands to plug into.

use std::{collections::BTreeMap, convert::Infallible};

use tokio::sync::watch;

use super::{
    super::{connect, failure::Failure, files, output, serve},
    Arguments,
};
use crate::{
    capture::Reader,
    simulator::{
        adapter::VirtualAdapter,
        recorded::{self, RecordedCar, Stage},
    },
};

/// Speed of the adapter's line where the capture does not tell it, baud (common practice).
const BAUD: u32 = 38_400;

/// Slowest line that is played, baud (common practice).
const SLOWEST: u32 = 9_600;

/// Fastest line that is played, baud (common practice).
const FASTEST: u32 = 2_000_000;

/// So many requests that cannot be answered are named.
const NAMED: usize = 6;

/// Reads the capture, opens the adapter, says what is there, and waits for Ctrl-C.
pub(super) fn serve(arguments: &Arguments, reader: Reader) -> Result<(), Failure> {
    let name = arguments.file.display();
    let link = reader.header().link.clone();
    let baud = link.and_then(|link| link.baud).unwrap_or(BAUD);
    let opened =
        recorded::open(reader).map_err(|error| Failure::new(&name, &error, error.next_step()))?;
    files::remark_damage(&arguments.file, &opened.damage);
    if let Some(words) = left_out(&opened.left_out) {
        output::remark(format_args!("{name}: {words}"));
    }
    let length = time_words(opened.car.length_us());
    let car = match arguments.from {
        None => opened.car,
        Some(span) => opened.car.from(span.as_us()).ok_or_else(|| {
            let problem = format!("the recording is only {length} long");
            Failure::new(&name, problem, "give an earlier time with --from")
        })?,
    };
    let what = format!("replaying {name}{}", content(&car, &length));
    let stage = car.stage();
    let adapter = VirtualAdapter::new(car, baud.clamp(SLOWEST, FASTEST));
    let (option, endpoint) = arguments.open(adapter)?;
    connect::block_on(serve::until_stopped(option, &endpoint, what, tell(stage)))
}

/// What there is to be asked for.
fn content(car: &RecordedCar, length: &str) -> String {
    let plural = if car.controllers() == 1 { "" } else { "s" };
    format!(
        " as a car: {length}, {}, {} controller{plural}, {} requests",
        car.protocol(),
        car.controllers(),
        car.items(),
    )
}

/// Answers that are not given again, by their requests; `None` when there are none.
fn left_out(requests: &BTreeMap<String, u64>) -> Option<String> {
    let count = requests.len();
    let named = requests.iter().take(NAMED);
    let named: Vec<String> = named
        .map(|(request, rows)| format!("{request} ({rows})"))
        .collect();
    let more = if count > NAMED { ", …" } else { "" };
    let items = if count == 1 { "item" } else { "items" };
    let named = named.join(", ");
    (count > 0).then(|| {
        format!(
            "{count} {items} cannot be replayed as a controller would answer; by request (and rows left out): \
             {named}{more}"
        )
    })
}

/// Tells how far the recording is, whenever that changes.
async fn tell(mut stage: watch::Receiver<Stage>) -> Infallible {
    while stage.changed().await.is_ok() {
        let now = *stage.borrow_and_update();
        match now {
            Stage::Waiting => {}
            Stage::Running => output::remark("a program has connected: the recording runs"),
            Stage::Over => output::remark(
                "the recording is over: the car no longer answers; the next command that connects starts it from the \
                 beginning",
            ),
        }
    }
    // the adapter is gone; the wish to stop is still to come
    std::future::pending().await
}

/// Minutes and seconds.
fn time_words(us: u64) -> String {
    let seconds = us / 1_000_000;
    match seconds / 60 {
        0 => format!("{seconds} s"),
        minutes => format!("{minutes} min {} s", seconds % 60),
    }
}
