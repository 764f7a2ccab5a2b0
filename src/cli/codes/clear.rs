//! `pintle codes --clear`: saves what clearing would lose, clears once, and says what is left and what restarts.

use std::{
    fmt::Write,
    io::{IsTerminal, stdin},
    path::{Path, PathBuf},
};

use pintle_protocol::{Address, adapter::Refusal, service::negative};
use serde::Serialize;

use super::{Arguments, Document, Silence, controller_words};
use crate::{
    capture::CaptureError,
    cli::{connect, failure::Failure, files, filing::Job, interrupt::Interrupt, output, terminal},
    job::Kind,
    link::{
        Before, ClearError, Cleared, Device,
        codes::{Codes, FoundCode},
    },
    quantity::Units,
    series::label::relearn,
    trace,
};

/// Reason of a controller that refuses until conditions are others (ISO 14229-1).
const CONDITIONS_NOT_CORRECT: u8 = 0x22;

/// Reasons of a controller that does not know the service, at all or in this session (ISO 14229-1).
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
    /// Those that cleared and those without an answer, in words.
    #[serde(skip)]
    names: [Vec<String>; 2],
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
    /// The controller in words.
    #[serde(skip)]
    name: Option<String>,
    code: String,
    meaning: Option<&'static str>,
}

/// Runs the command with `--clear`.
pub(super) fn run(arguments: &Arguments) -> Result<(), Failure> {
    if !arguments.yes && !stdin().is_terminal() {
        return Err(Failure::new(
            "codes --clear",
            "nothing was cleared: without a terminal nobody can confirm it",
            "run it in a terminal, or add --yes if you are sure",
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
    if arguments.json {
        output::print_json(&report)?
    } else {
        output::print(&report.text(arguments.units))?
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
    if arguments.yes {
        if let Some(words) = nothing_there(before.codes()) {
            output::remark(words);
        }
    } else {
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
    output::ask(&question(before.codes(), path));
    let mut line = String::new();
    // No line is no yes.
    let _ = stdin().read_line(&mut line);
    if line.trim().eq_ignore_ascii_case("yes") {
        Ok(())
    } else {
        Err(Failure::new(
            "codes --clear",
            "nothing was cleared or saved",
            "answer `yes` to clear",
        ))
    }
}

fn question(codes: &Codes, path: &Path) -> String {
    let mut text = String::from("The engine is off. Codes now:\n");
    let silence = Silence::of(codes);
    for (name, list, silence) in [
        ("stored", &codes.stored, silence),
        ("pending", &codes.pending, silence),
        ("permanent", &codes.permanent, Silence::NotThere),
    ] {
        let entries = super::entries(list.as_deref());
        super::list(&mut text, name, entries.as_deref(), silence);
    }
    if let Some(words) = nothing_there(codes) {
        text += &terminal::paragraph(words);
    }
    text += &terminal::paragraph(
        "Record the fault first (`pintle record`): after clearing it cannot be recorded any more. Clearing erases stored and \
         pending codes and the freeze frame in all controllers. Long-term fuel trims, misfire counters and readiness start \
         from zero. Permanent codes stay.",
    );
    text += &terminal::paragraph(&format!("Saved first to {}.", path.display()));
    text + "\nType yes to clear: "
}

/// What to say where clearing would erase no code: it may still be wanted, for it sets fuel trims back.
fn nothing_there(codes: &Codes) -> Option<&'static str> {
    let lists = [&codes.stored, &codes.pending];
    let none_is_there = lists
        .iter()
        .all(|list| list.as_ref().is_some_and(Vec::is_empty))
        && codes.freeze_frame.is_none();
    none_is_there.then_some(
        "There is nothing to clear: no stored or pending code and no freeze frame. Clearing would only reset long-term fuel \
         trims, misfire counters and readiness.",
    )
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
            names: [
                cleared
                    .accepted
                    .iter()
                    .flatten()
                    .copied()
                    .map(controller_words)
                    .collect(),
                cleared
                    .silent
                    .iter()
                    .copied()
                    .map(controller_words)
                    .collect(),
            ],
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
        let [accepted, silent] = &self.names;
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
            Outcome::Cleared => writeln!(text, "cleared by the {}", accepted.join(" and the ")),
            Outcome::Partly => writeln!(
                text,
                "cleared by the {}; refused by the {}",
                accepted.join(" and the "),
                refused.join(" and the ")
            ),
            Outcome::Refused => writeln!(text, "refused by the {}", refused.join(" and the ")),
            Outcome::NotKnown => writeln!(text, "not known whether anything was cleared"),
        };
        if self.no_answer.is_none() && !silent.is_empty() {
            let _ = writeln!(text, "no answer from the {}", silent.join(" and the "));
        }
        let _ = writeln!(text, "the state before is saved in {}", self.saved);
        if let Some(after) = &self.after {
            let _ = write!(text, "\nCodes now:\n{}", after.text(units));
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
        let refused = refused.join(" and the ");
        let saved = format!("the state before is saved in {}", self.saved);
        match self.outcome {
            Outcome::Cleared => lost.map(|lost| {
                Failure::new(
                    device,
                    format!("the codes are cleared, but could not be read again: {lost}"),
                    format!("check with `pintle codes`; {saved}"),
                )
            }),
            Outcome::Partly => Some(Failure::new(
                device,
                format!("some controllers have cleared, but not the {refused}"),
                format!("{}; {saved}", self.after_refusal()),
            )),
            Outcome::Refused => Some(Failure::new(
                device,
                format!("nothing was cleared: refused by the {refused}"),
                format!("{}; {saved}", self.after_refusal()),
            )),
            Outcome::NotKnown => Some(Failure::new(
                device,
                format!(
                    "the request to clear was sent, but its answer was lost ({}), so it is not known whether the codes are cleared",
                    self.no_answer.as_deref().unwrap_or("silence")
                ),
                format!(
                    "do not clear again; check with `pintle probe`: no codes and readiness not complete means cleared; {saved}"
                ),
            )),
        }
    }

    /// What to do about a refusal.
    fn after_refusal(&self) -> &'static str {
        let has = |code: u8| self.refused.iter().any(|refused| refused.is(code));
        if has(CONDITIONS_NOT_CORRECT) {
            "turn the ignition off, wait half a minute, turn it on without starting and with all else switched off, and try again"
        } else if NOT_SUPPORTED.into_iter().any(has) {
            "this controller does not support clearing by the standard: see the manufacturer's service information"
        } else {
            "turn the ignition off and on again, and try once more"
        }
    }
}

impl Refused {
    fn of(refusal: &Refusal) -> Self {
        Self {
            controller: refusal.from.map(|from| from.to_string()),
            name: refusal.from.map(controller_words),
            code: format!("{:02X}", refusal.code),
            meaning: negative::meaning(refusal.code),
        }
    }

    fn is(&self, code: u8) -> bool {
        self.code == format!("{code:02X}")
    }

    fn words(&self) -> String {
        let controller = self.name.as_deref().unwrap_or("car");
        let meaning = self.meaning.unwrap_or("reason not known");
        format!("{controller}: {meaning} (negative answer {})", self.code)
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
            "Permanent codes stay until the car's own tests, while driving, find that the fault is gone."
                .to_owned(),
        );
    }
    advice.push(format!(
        "Long-term fuel trims, misfire counters and readiness now start from zero. To compare with an earlier recording, drive the \
         warm engine until long-term fuel trim has settled: some cars begin to learn only after a quarter of an hour. Then \
         record {} minutes or more each at idle, at a steady 2500 rpm and at light cruise. Within {:.0} engine minutes after \
         clearing, data recorded while the trims still settle does not count. Compare misfires by rate, not by count.",
        relearn::STEADY_S / 60,
        relearn::SOON_MIN,
    ));
    advice
}
