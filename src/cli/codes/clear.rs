//! `pintle codes --clear`: saves what clearing would lose, clears once, and tells what is left and what begins anew.

use std::{
    fmt::Write,
    io::{IsTerminal, stdin},
    path::{Path, PathBuf},
};

use pintle_protocol::{Address, adapter::Refusal, service::negative};
use serde::Serialize;

use super::{Arguments, Document, Silence};
use crate::{
    capture::CaptureError,
    cli::{connect, failure::Failure, files, filing::Job, interrupt::Interrupt, output, terminal},
    job::Kind,
    link::{
        Before, ClearError, Cleared, Device,
        codes::{Codes, FoundCode},
    },
    quantity::Units,
    series::relearn,
    trace,
};

/// What a controller refuses with when it wants other conditions, and when it does not know the service (ISO 14229-1).
const CONDITIONS_NOT_CORRECT: u8 = 0x22;
const NOT_SUPPORTED: [u8; 2] = [0x11, 0x7F];

/// What clearing sets back, besides the codes and the freeze frame.
const RESTARTS: [&str; 3] = ["long_term_trims", "misfire_counters", "readiness"];

/// What became of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
enum Outcome {
    /// All controllers that said something have cleared.
    Cleared,
    /// Some have cleared, some have refused.
    Partly,
    /// Nobody has cleared.
    Refused,
    /// The answer was lost, and what the car says now does not decide it.
    NotKnown,
}

#[derive(Serialize)]
struct Report {
    schema: &'static str,
    outcome: Outcome,
    saved: String,
    accepted: Vec<Option<String>>,
    refused: Vec<Refused>,
    silent: Vec<String>,
    /// Why there is no answer.
    no_answer: Option<String>,
    before: Document,
    after: Option<Document>,
    restarts_from_zero: [&'static str; 3],
    advice: Vec<String>,
}

#[derive(Serialize)]
struct Refused {
    controller: Option<String>,
    code: String,
    meaning: Option<&'static str>,
}

/// Runs the command with `--clear`.
pub(super) fn run(arguments: &Arguments) -> Result<(), Failure> {
    if !arguments.yes && !stdin().is_terminal() {
        return Err(Failure::new(
            "codes --clear",
            "nothing was cleared, because nobody can be asked to confirm it without a terminal",
            "run it in one, or add --yes if you are sure",
        ));
    }
    let device = arguments.connect.device()?;
    let job = arguments.filing.open()?;
    let path = match (&arguments.out, &job) {
        (Some(path), _) => path.clone(),
        // what a moment's look has saved is no drive: its name puts it on neither side
        (None, Some(job)) => job.new_capture("clearing")?,
        (None, None) => files::dated_name("before-clearing"),
    };
    if path.exists() {
        return Err(not_saved(&path, &CaptureError::Exists));
    }
    let trace = arguments.connect.trace()?;
    let work = clear(arguments, &device, trace, job.as_ref(), path);
    let (report, failure) = connect::block_on(work)?;
    let filed = job.map(|job| job.file_json_as(Kind::Codes, "clearing", &report));
    match arguments.json {
        true => output::print_json(&report)?,
        false => output::print(&report.text(arguments.units))?,
    }
    // what became of the car is said first
    filed.transpose()?;
    failure.map_or(Ok(()), Err)
}

/// The report, and what makes the command fail although there is one.
async fn clear(
    arguments: &Arguments,
    device: &Device,
    trace: Option<trace::Writer>,
    job: Option<&Job>,
    path: PathBuf,
) -> Result<(Report, Option<Failure>), Failure> {
    let nothing_cleared = |error: ClearError| not_cleared(device, &error);
    let mut session = connect::session(device, trace).await?;
    arguments.meet(device, &mut session, job).await?;
    let before = session.read_before_clearing().await;
    let before = before.map_err(nothing_cleared)?;
    if !arguments.yes {
        confirm(&before, &path)?;
    }
    // From here to the end, a wish to stop would only leave open what became of it.
    let _unheard = Interrupt::listen();
    let saved = before
        .save(&path)
        .map_err(|error| not_saved(&path, &error))?;
    output::remark(format_args!("{}: saved", path.display()));
    let cleared = session.clear_codes(saved).await;
    let cleared = cleared.map_err(nothing_cleared)?;
    let after = session.codes().await;
    let report = Report::of(&path, before.codes(), cleared, after.as_ref().ok());
    let failure = report.failure(device, after.err().map(|error| error.to_string()));
    Ok((report, failure))
}

/// Asks on the terminal.
fn confirm(before: &Before, path: &Path) -> Result<(), Failure> {
    output::remark(question(before.codes(), path));
    let mut line = String::new();
    // No line is no yes.
    let _ = stdin().read_line(&mut line);
    match line.trim().eq_ignore_ascii_case("yes") {
        true => Ok(()),
        false => Err(Failure::new(
            "codes --clear",
            "nothing was cleared, and nothing saved",
            "answer `yes` to clear",
        )),
    }
}

fn question(codes: &Codes, path: &Path) -> String {
    let mut text = String::from("The engine stands. Now there are:\n");
    let silence = Silence::of(codes);
    for (name, list, silence) in [
        ("stored", &codes.stored, silence),
        ("pending", &codes.pending, silence),
        ("permanent", &codes.permanent, Silence::NotThere),
    ] {
        let entries = super::entries(list.as_deref());
        super::list(&mut text, name, entries.as_deref(), silence);
    }
    // writing to a String cannot fail
    let _ = write!(
        text,
        "\nStored and pending codes and the freeze frame are erased in all controllers. Permanent codes stay. Long term\n\
         trims, misfire counters and readiness start from zero: record the fault first (`pintle record`), afterwards it\n\
         cannot be recorded any more. All this is saved before, to {}.\n\
         \nType yes to clear:",
        path.display()
    );
    text
}

fn not_saved(path: &Path, error: &CaptureError) -> Failure {
    let problem = format!("{error}; nothing was cleared");
    Failure::new(path.display(), problem, error.next_step())
}

fn not_cleared(device: &Device, error: &ClearError) -> Failure {
    let problem = format!("{error}; nothing was cleared");
    Failure::new(device, problem, error.next_step(device.kind()))
}

impl Report {
    fn of(path: &Path, before: &Codes, cleared: Cleared, after: Option<&Codes>) -> Self {
        let outcome = outcome(&cleared, before, after);
        let text = |address: Address| address.to_string();
        Self {
            schema: "pintle.clear/1",
            outcome,
            saved: path.display().to_string(),
            accepted: cleared.accepted.iter().map(|from| from.map(text)).collect(),
            refused: cleared.refused.iter().map(Refused::of).collect(),
            silent: cleared.silent.into_iter().map(text).collect(),
            no_answer: cleared.no_answer,
            before: Document::of(before),
            after: after.map(Document::of),
            restarts_from_zero: RESTARTS,
            advice: match outcome {
                Outcome::Cleared | Outcome::Partly => advice(after),
                Outcome::Refused | Outcome::NotKnown => Vec::new(),
            },
        }
    }

    fn text(&self, units: Units) -> String {
        let mut text = String::new();
        let accepted = self.accepted.iter().flatten();
        let accepted: Vec<&str> = accepted.map(String::as_str).collect();
        let refused: Vec<String> = self.refused.iter().map(Refused::words).collect();
        // writing to a String cannot fail
        let _ = match self.outcome {
            Outcome::Cleared if self.no_answer.is_some() => {
                writeln!(
                    text,
                    "cleared: no answer came, but the stored codes are gone"
                )
            }
            Outcome::Cleared if accepted.is_empty() => writeln!(text, "cleared"),
            Outcome::Cleared => writeln!(text, "cleared by {}", accepted.join(", ")),
            Outcome::Partly => writeln!(
                text,
                "cleared by {}, but refused by {}",
                accepted.join(", "),
                refused.join(", ")
            ),
            Outcome::Refused => writeln!(text, "refused by {}", refused.join(", ")),
            Outcome::NotKnown => writeln!(text, "it is not known whether anything was cleared"),
        };
        if self.no_answer.is_none() && !self.silent.is_empty() {
            let _ = writeln!(text, "no answer from {}", self.silent.join(", "));
        }
        let _ = writeln!(text, "saved before in {}", self.saved);
        if let Some(after) = &self.after {
            let _ = write!(text, "\nNow there are:\n{}", after.text(units));
        }
        for words in &self.advice {
            text += &terminal::paragraph(words);
        }
        text
    }

    /// What the person has to know first when it did not go as wished. `lost` tells why the codes could not be read
    /// again.
    fn failure(&self, device: &Device, lost: Option<String>) -> Option<Failure> {
        let refused: Vec<String> = self.refused.iter().map(Refused::words).collect();
        let refused = refused.join(", ");
        let saved = format!("what was there before is in {}", self.saved);
        match self.outcome {
            Outcome::Cleared => lost.map(|lost| {
                Failure::new(
                    device,
                    format!("the codes are cleared, but then could not be read again: {lost}"),
                    format!("look with `pintle codes`; {saved}"),
                )
            }),
            Outcome::Partly => Some(Failure::new(
                device,
                format!("other controllers have cleared, but not {refused}"),
                format!("{}; {saved}", self.after_refusal()),
            )),
            Outcome::Refused => Some(Failure::new(
                device,
                format!("nothing was cleared: refused by {refused}"),
                format!("{}; {saved}", self.after_refusal()),
            )),
            Outcome::NotKnown => Some(Failure::new(
                device,
                format!(
                    "the request to clear was sent, but its answer was lost ({}), so that it is not known whether the codes are \
                     cleared",
                    self.no_answer.as_deref().unwrap_or("silence")
                ),
                format!(
                    "do not clear again but look with `pintle probe`: codes gone and readiness not complete means cleared; {saved}"
                ),
            )),
        }
    }

    /// What to do about a refusal.
    fn after_refusal(&self) -> &'static str {
        let has = |code: u8| self.refused.iter().any(|refused| refused.is(code));
        if has(CONDITIONS_NOT_CORRECT) {
            "ignition off, wait half a minute, ignition on without starting, everything else switched off, and try again"
        } else if NOT_SUPPORTED.into_iter().any(has) {
            "this controller does not clear by the standard's service: its maker's service information says how it is done"
        } else {
            "ignition off and on again, and try once more"
        }
    }
}

impl Refused {
    fn of(refusal: &Refusal) -> Self {
        Self {
            controller: refusal.from.map(|from| from.to_string()),
            code: format!("{:02X}", refusal.code),
            meaning: negative::meaning(refusal.code),
        }
    }

    fn is(&self, code: u8) -> bool {
        self.code == format!("{code:02X}")
    }

    fn words(&self) -> String {
        let controller = self.controller.as_deref().unwrap_or("a controller");
        let meaning = self.meaning.unwrap_or("reason not known");
        format!("{controller} ({meaning}: negative answer {})", self.code)
    }
}

/// An answer decides; without one, what the car says now does if it can.
fn outcome(cleared: &Cleared, before: &Codes, after: Option<&Codes>) -> Outcome {
    match (cleared.accepted.is_empty(), cleared.refused.is_empty()) {
        (false, true) => Outcome::Cleared,
        (false, false) => Outcome::Partly,
        (true, false) => Outcome::Refused,
        (true, true) => {
            let had_codes = has_codes(before.stored.as_deref());
            let stored = after.and_then(|after| after.stored.as_deref());
            match stored {
                Some([]) if had_codes => Outcome::Cleared,
                _ => Outcome::NotKnown,
            }
        }
    }
}

fn has_codes(list: Option<&[FoundCode]>) -> bool {
    list.is_some_and(|list| !list.is_empty())
}

/// What the person should know now.
fn advice(after: Option<&Codes>) -> Vec<String> {
    let mut advice = Vec::new();
    if has_codes(after.and_then(|after| after.permanent.as_deref())) {
        advice.push(
            "Permanent codes stay until the car has found by its own tests, while driven, that the fault is gone."
                .to_owned(),
        );
    }
    advice.push(format!(
        "Long term trims, misfire counters and readiness start from zero now. To compare with a recording made before, drive the \
         warm engine first until long term trim stands still again: some cars begin to learn only after a quarter of an hour. \
         Then record {} minutes or more each at idle, at a held 2500 rpm and at light cruise. What is recorded while trims still \
         settle is kept aside, within {:.0} engine minutes after clearing. Compare misfires by rate, not by count.",
        relearn::STEADY_S / 60,
        relearn::SOON_MIN,
    ));
    advice
}
