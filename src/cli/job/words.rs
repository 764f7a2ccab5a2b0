//! A job in words: what comes next, with the command that does it.

use crate::job::{Folder, Next, Side};

/// What comes next, in one sentence.
pub(super) fn next(next: Next, job: &Folder) -> String {
    let folder = job.path().display();
    match next {
        Next::Record(Side::Before) => format!(
            "record the car as it came (warm idle, steady 2500 rpm, a drive): pintle record --job {folder} --for 15m"
        ),
        Next::Record(Side::After) => format!(
            "once the fuel trims have settled, record the same driving again: pintle record --job {folder} --for 15m"
        ),
        Next::TooLate => format!(
            "see how the car runs now (pintle record --job {folder} --for 15m, then pintle diagnose --job {folder}); \
             it was not recorded before the work, so what the work changed cannot be shown"
        ),
        Next::Diagnose => format!("diagnose what was recorded: pintle diagnose --job {folder}"),
        Next::CheckOrChoose => format!(
            "do the checks that the diagnosis lists and enter them (form: pintle bench --new --job {folder}; filled \
             in: pintle bench --job {folder}); if nothing is in doubt, choose the work: pintle job choose {folder} \
             WHAT"
        ),
        Next::Choose => format!(
            "diagnose again with the bench readings (pintle diagnose --job {folder}), then choose the work: pintle \
             job choose {folder} WHAT"
        ),
        Next::Work => format!("do the work, then: pintle job done {folder}"),
        Next::Compare => {
            format!("compare before and after: pintle compare --job {folder}")
        }
        Next::Report => format!("write the page for the customer: pintle report {folder}"),
        Next::Nothing => "nothing, the page is written".to_owned(),
    }
}

/// The local day of a moment.
pub(super) fn day(at: jiff::Timestamp) -> String {
    let local = at.to_zoned(jiff::tz::TimeZone::system());
    local.strftime("%Y-%m-%d").to_string()
}
