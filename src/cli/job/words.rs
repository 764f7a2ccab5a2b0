//! A job in words: what comes next, with the command that does it.

use crate::job::{Folder, Next, Side};

/// What comes next, in one sentence.
pub(super) fn next(next: Next, job: &Folder) -> String {
    let folder = job.path().display();
    match next {
        Next::Record(Side::Before) => format!(
            "record the car as it came, warm idle, held 2500 rpm and a drive: pintle record --job {folder} --for 15m"
        ),
        Next::Record(Side::After) => format!(
            "record the same driving again, after the trims have settled: pintle record --job {folder} --for 15m"
        ),
        Next::TooLate => format!(
            "the car was not recorded before the work, so what the work changed cannot be shown; see how it runs now: \
             pintle record --job {folder} --for 15m, then pintle diagnose --job {folder}"
        ),
        Next::Diagnose => format!("judge what was recorded: pintle diagnose --job {folder}"),
        Next::CheckOrChoose => format!(
            "make the checks that the diagnosis lists (form: pintle bench --new --job {folder}; filled in: pintle bench --job \
             {folder}), or where nothing is in doubt choose: pintle job choose {folder} WHAT"
        ),
        Next::Choose => format!(
            "judge again with the bench readings (pintle diagnose --job {folder}) and choose the least treatment: pintle job \
             choose {folder} WHAT"
        ),
        Next::Work => format!("do the work, then: pintle job done {folder}"),
        Next::Compare => {
            format!("hold both sides against each other: pintle compare --job {folder}")
        }
        Next::Report => format!("write the page for the customer: pintle report {folder}"),
        Next::Nothing => "nothing more, the page is written".to_owned(),
    }
}

/// The local day of a moment.
pub(super) fn day(at: jiff::Timestamp) -> String {
    let local = at.to_zoned(jiff::tz::TimeZone::system());
    local.strftime("%Y-%m-%d").to_string()
}
