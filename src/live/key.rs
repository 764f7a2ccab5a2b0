//! Which key does what: one table for the loop, the line at the bottom and the help page.

use crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};

/// What a key asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Action {
    /// Write a mark, and begin to type a note to it.
    Mark,
    /// Show or hide the help page.
    Help,
    /// End in order.
    Leave,
    /// End in order, as an interruption.
    Interrupt,
    /// Let the shell have the terminal.
    Suspend,
    /// Pause, or play.
    Pause,
    /// Go this far, seconds.
    Go(i64),
    /// Go this far, seconds, and pause.
    Step(i64),
    /// To the mark before or after.
    PreviousMark,
    /// To the mark after.
    NextMark,
    /// Begin to type the time to go to.
    Time,
    /// To the beginning.
    Begin,
    /// To the end.
    End,
    /// Twice as fast.
    Faster,
    /// Half as fast.
    Slower,
    /// Skip the guided step.
    Skip,
    /// Do the guided step again.
    Repeat,
    /// To the guided step before.
    Back,
}

/// Where a key means something.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum KeyContext {
    /// At a car and in a replay.
    Everywhere,
    /// At a car.
    Car,
    /// In a replay.
    Replay,
    /// In a guided run.
    Guide,
}

/// A key and its meaning.
#[derive(Debug, Clone, Copy)]
pub struct Binding {
    code: KeyCode,
    /// The key as it is shown; empty for a second key to the same end.
    pub shown: &'static str,
    /// What it asks for.
    pub action: Action,
    /// Where.
    pub context: KeyContext,
    /// In a word or two; empty where only the help page names it.
    pub word: &'static str,
    /// In a sentence.
    pub sentence: &'static str,
}

const fn key(
    code: KeyCode,
    shown: &'static str,
    context: KeyContext,
    action: Action,
    word: &'static str,
    sentence: &'static str,
) -> Binding {
    Binding {
        code,
        shown,
        action,
        context,
        word,
        sentence,
    }
}

use KeyCode::{Char, Down, End, Home, Left, PageDown, PageUp, Right, Up};
use KeyContext::{Car, Everywhere, Guide, Replay};

/// Every key.
#[rustfmt::skip]
pub const KEYS: [Binding; 22] = [
    key(Char('m'), "m", Car, Action::Mark, "mark", "Write a mark now; then type a note to it, or press Enter."),
    key(Char(' '), "space", Replay, Action::Pause, "pause", "Pause or play; at the end, play again from the beginning."),
    key(Left, "← →", Replay, Action::Go(-10), "10 s", "Ten seconds back or forward."),
    key(Right, "", Replay, Action::Go(10), "", ""),
    key(PageUp, "PgUp PgDn", Replay, Action::Go(-60), "", "One minute back or forward."),
    key(PageDown, "", Replay, Action::Go(60), "", ""),
    key(Char(','), ", .", Replay, Action::Step(-1), "1 s", "Pause, and go one second back or forward."),
    key(Char('.'), "", Replay, Action::Step(1), "", ""),
    key(Char('<'), "< >", Replay, Action::PreviousMark, "marks", "To the mark before or after."),
    key(Char('>'), "", Replay, Action::NextMark, "", ""),
    key(Char('t'), "t", Replay, Action::Time, "time", "To a time: type 12:30 for minute 12, second 30; then press Enter."),
    key(Home, "Home End", Replay, Action::Begin, "", "To the beginning or the end."),
    key(End, "", Replay, Action::End, "", ""),
    key(Char('+'), "+ −", Replay, Action::Faster, "speed", "Twice or half as fast."),
    key(Char('-'), "", Replay, Action::Slower, "", ""),
    key(Up, "", Replay, Action::Faster, "", ""),
    key(Down, "", Replay, Action::Slower, "", ""),
    key(Char('n'), "n", Guide, Action::Skip, "skip step", "Skip this step of the guided run."),
    key(Char('a'), "a", Guide, Action::Repeat, "again", "Do this step of the guided run once more."),
    key(Char('b'), "b", Guide, Action::Back, "back", "Back to the step before."),
    key(Char('?'), "?", Everywhere, Action::Help, "help", "Show or hide this page."),
    key(Char('q'), "q", Everywhere, Action::Leave, "quit", "Quit; the recording is complete and saved."),
];

/// Keys that mean something here, each way once.
pub fn keys_of(contexts: &[KeyContext]) -> impl Iterator<Item = &'static Binding> {
    let shown = |binding: &&Binding| {
        !binding.shown.is_empty()
            && (binding.context == Everywhere || contexts.contains(&binding.context))
    };
    KEYS.iter().filter(shown)
}

/// What a key event asks for here.
pub fn action_of(event: &KeyEvent, contexts: &[KeyContext]) -> Option<Action> {
    if event.kind == KeyEventKind::Release {
        return None;
    }
    if event.modifiers.contains(KeyModifiers::CONTROL) {
        return match event.code {
            Char('c') => Some(Action::Interrupt),
            Char('d') => Some(Action::Leave),
            Char('z') => Some(Action::Suspend),
            _ => None,
        };
    }
    let meant = |binding: &&Binding| {
        binding.code == event.code
            && (binding.context == Everywhere || contexts.contains(&binding.context))
    };
    KEYS.iter().find(meant).map(|binding| binding.action)
}
