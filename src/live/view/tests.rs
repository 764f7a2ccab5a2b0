//! Every line of the screen is whole or ends in `…`, in windows of many sizes.
//!
//! What a line says in full is taken from the same scene in a window where nothing has to be cut.

use std::collections::BTreeSet;

use ratatui::{Terminal, backend::TestBackend};

use super::*;
use crate::{
    capture::{Header, Kind, Row},
    diagnose::{self, Tables},
    live::{
        judge::Judgement,
        key::KeyContext,
        model::Model,
        scene::{File, Playback},
        typing::{Purpose, Typing},
    },
    vehicle::Vehicle,
};

/// Where everything has room in one line.
const WIDE: (u16, u16) = (900, 90);

/// How the car is driven at last.
#[derive(Debug, Clone, Copy)]
enum Driving {
    Idle,
    Cruise,
    /// Off the pedal, with the fuel cut.
    Overrun,
    Cold,
}

/// A recording of a six-cylinder whose cylinder 3 misfires and whose bank 1 adds fuel, ending so.
fn model(end: Driving, seconds: u32, before: bool) -> Model {
    let header = Header {
        vehicle: Vehicle::from_toml("label = \"wagon 2\"\nbanks = [[1, 2, 3], [4, 5, 6]]\n").ok(),
        ..Header::default()
    };
    let earlier = before.then(|| model(Driving::Idle, 400, false).summary());
    let mut model = Model::new(&header, earlier.as_slice());
    for quarter in 0..4 * seconds {
        let t_us = u64::from(quarter) * 250_000;
        let second = quarter / 4;
        let driving = if second + 40 < seconds {
            Driving::Idle
        } else {
            end
        };
        let (rpm, load, speed, coolant, status) = match driving {
            Driving::Idle => (700, 60, 0, 130, 2),
            Driving::Cruise => (1800, 90, 60, 130, 2),
            Driving::Overrun => (1800, 0, 60, 130, 4),
            Driving::Cold => (900, 60, 0, 60, 1),
        };
        let rpm = 4 * rpm;
        // a sensor that never moves would be taken for a dead one
        let swing = [0, 1, 1, 0, -1, -1][quarter as usize % 6];
        let mut rows = vec![match quarter % 4 {
            0 => (
                "010C040D05",
                format!("410C{rpm:04X}04{load:02X}0D{speed:02X}05{coolant:02X}"),
            ),
            1 => ("0103", format!("4103{status:02X}00")),
            2 => ("010903", "4109800302".to_owned()),
            _ => (
                "01060708",
                format!("4106{:02X}078C08{:02X}", 0x83 + swing, 0x80 - swing),
            ),
        }];
        let monitors = ["06A2", "06A3", "06A4", "06A5", "06A6", "06A7"];
        if quarter % 40 == 39 {
            for (index, monitor) in monitors.into_iter().enumerate() {
                let count = if index == 2 { 4 * second } else { 0 };
                let answer = format!("46{}0C24{count:04X}0000FFFF", &monitor[2..]);
                rows.push((monitor, answer));
            }
        }
        for (request, response) in &rows {
            model.take(&Row {
                t_us,
                kind: Kind::Data,
                ecu: "7E8",
                request,
                response,
            });
        }
        if quarter % 400 == 0 {
            let response = "mark 1: hose of the purge valve pulled off and closed with a cap";
            model.take(&Row {
                t_us,
                kind: Kind::Mark,
                ecu: "",
                request: "",
                response,
            });
        }
    }
    model
}

/// A screen that the program can show.
struct State {
    name: &'static str,
    source: Source,
    file: Option<File>,
    model: Option<Model>,
    judgement: Judgement,
    contexts: Vec<KeyContext>,
    typing: Option<Typing>,
}

fn state(name: &'static str, source: Source, guided: bool, model: Option<Model>) -> State {
    let is_replay = matches!(source, Source::Recording(_));
    let mut contexts = vec![if is_replay {
        KeyContext::Replay
    } else {
        KeyContext::Car
    }];
    contexts.extend(guided.then_some(KeyContext::Guide));
    let summary = model.as_ref().map(Model::whole).unwrap_or_default();
    let tables = Tables::standard().unwrap();
    let summaries = std::slice::from_ref(&summary);
    let diagnosis = diagnose::diagnose(summaries, &Vehicle::default(), &tables);
    let file = File {
        name: "second-visit-after-cleaning-the-injectors.capture.csv.gz".to_owned(),
        bytes: 4_123_000,
        flushed_s_ago: 1.0,
    };
    State {
        name,
        source,
        file: (model.is_some() && !is_replay).then_some(file),
        model,
        judgement: Judgement { summary, diagnosis },
        contexts,
        typing: None,
    }
}

fn states() -> Vec<State> {
    let car = || Source::Car {
        answers_per_s: 46.0,
    };
    let driven = |end| Some(model(end, 500, false));
    let mut skipped = model(Driving::Overrun, 500, false);
    for _ in 0..6 {
        skipped.run_mut().skip();
    }
    let mut compared = model(Driving::Cruise, 300, true);
    compared.run_mut().skip();
    let mut mark = Typing::begin(Purpose::Mark);
    let note = "the hose of cylinder 3";
    note.chars().for_each(|letter| mark.add(letter));
    let trouble = "lost: the adapter is gone (no such device); plug the adapter in again and seat both of its plugs";
    vec![
        state("idle", car(), false, driven(Driving::Idle)),
        state("cruise", car(), false, driven(Driving::Cruise)),
        state("overrun", car(), false, driven(Driving::Overrun)),
        state("cold", car(), false, driven(Driving::Cold)),
        state("guided, cold", car(), true, driven(Driving::Cold)),
        state("guided, overrun", car(), true, driven(Driving::Overrun)),
        state("guided, skipped", car(), true, Some(skipped.clone())),
        state("guided, compared", car(), true, Some(compared)),
        State {
            file: None,
            ..state("not recorded", car(), true, Some(skipped))
        },
        State {
            typing: Some(mark),
            ..state("typing", car(), false, driven(Driving::Idle))
        },
        state(
            "waiting",
            car(),
            false,
            Some(Model::new(&Header::default(), &[])),
        ),
        state(
            "trouble",
            Source::Troubled {
                words: trouble.to_owned(),
            },
            false,
            driven(Driving::Idle),
        ),
        state(
            "refused",
            Source::Refused {
                words:
                    "the adapter works, but no controller answers and the battery is low (10.2 V)"
                        .to_owned(),
                next_step: "charge the battery, turn the ignition on and try again".to_owned(),
            },
            false,
            None,
        ),
        state(
            "replay",
            Source::Recording(Playback {
                begin_us: 0,
                at_us: 500_000_000,
                read_us: 5_000_000_000,
                length_us: Some(5_000_000_000),
                speed: 0.125,
                paused: true,
                ended: false,
                marks_us: vec![100_000_000, 4_000_000_000],
                seeking: false,
            }),
            false,
            driven(Driving::Overrun),
        ),
    ]
}

/// The screen, row by row, each letter in its cell.
fn drawn(state: &State, (columns, rows): (u16, u16)) -> Vec<Vec<String>> {
    let guidance = state.model.as_ref().map(|model| model.run().guidance());
    let scene = Scene {
        title: "wagon 2 of the workshop at the harbour",
        now_us: state.model.as_ref().map_or(0, Model::t_us),
        model: state.model.as_ref(),
        judgement: &state.judgement,
        source: &state.source,
        file: state.file.as_ref(),
        guidance: guidance.as_ref(),
        guided: state.contexts.contains(&KeyContext::Guide),
        contexts: &state.contexts,
        typing: state.typing.as_ref(),
        help: false,
    };
    let mut terminal = Terminal::new(TestBackend::new(columns, rows)).unwrap();
    terminal
        .draw(|frame| draw(frame, &scene, Theme { colour: false }))
        .unwrap();
    let buffer = terminal.backend().buffer();
    let row = |y| (0..columns).map(move |x| buffer[(x, y)].symbol().to_owned());
    (0..rows).map(|y| row(y).collect()).collect()
}

/// Words with one blank between them, and the column where they begin.
struct Run {
    column: usize,
    words: Vec<String>,
}

/// Whether a letter is drawing and no writing.
fn is_drawing(letter: &str) -> bool {
    letter.chars().all(|c| match c {
        '─' | '━' | '╋' | '┼' | '╌' | '◆' | '▔' | '▕' | '▏' | '[' | ']' | '·' => {
            true
        }
        c => ('\u{2580}'..='\u{259F}').contains(&c) || ('\u{2800}'..='\u{28FF}').contains(&c),
    })
}

fn runs(row: &[String]) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    let mut blanks = 2;
    for (column, letter) in row.iter().enumerate() {
        if letter == " " || is_drawing(letter) {
            blanks += if letter == " " { 1 } else { 2 };
            continue;
        }
        match runs.last_mut() {
            Some(run) if blanks == 0 => run.words.last_mut().unwrap().push_str(letter),
            Some(run) if blanks == 1 => run.words.push(letter.clone()),
            _ => runs.push(Run {
                column,
                words: vec![letter.clone()],
            }),
        }
        blanks = 0;
    }
    for word in runs.iter_mut().flat_map(|run| &mut run.words) {
        *word = shape(word);
    }
    runs
}

/// A word with every digit alike; whole numbers are all alike, since some depend on the window, as minutes shown do.
fn shape(word: &str) -> String {
    let digits = word.trim_start_matches(['+', '−']);
    if digits.chars().all(|c| c.is_ascii_digit()) {
        "0".to_owned()
    } else {
        word.chars()
            .map(|c| if c.is_ascii_digit() { '0' } else { c })
            .collect()
    }
}

/// What is said where there is room: its words, its pairs of neighbours, and the words at which it may end.
#[derive(Default)]
struct Said {
    words: BTreeSet<String>,
    pairs: BTreeSet<(String, String)>,
    ends: BTreeSet<String>,
}

impl Said {
    fn add(&mut self, row: &[String]) {
        for run in runs(row) {
            for pair in run.words.windows(2) {
                self.pairs.insert((pair[0].clone(), pair[1].clone()));
            }
            self.ends.extend(run.words.last().cloned());
            self.words.extend(run.words);
        }
    }

    /// What is wrong with a row above another; nothing when each piece of it is whole or says that it is cut.
    fn fault(&self, row: &[String], below: &[Run]) -> Option<String> {
        let cut = |word: &str| word.contains('…');
        runs(row).into_iter().find_map(|run| {
            let shown = run.words.join(" ");
            let known = |word: &String| cut(word) || self.words.contains(word);
            if let Some(word) = run.words.iter().find(|word| !known(word)) {
                return Some(format!("{word:?} of {shown:?} is no whole word"));
            }
            let last = run.words.last()?;
            let goes_on = below.iter().any(|next| {
                let first = &next.words[0];
                let pair = (last.clone(), first.clone());
                next.column == run.column && (cut(first) || self.pairs.contains(&pair))
            });
            let whole = cut(last) || self.ends.contains(last) || goes_on;
            (!whole).then(|| format!("{shown:?} is cut and does not say so"))
        })
    }
}

/// Shorter words for the same, shown whole where the longer ones have no room.
const SHORT_FORMS: [&str; 6] = [
    "per 1000 revolutions",
    "per 1000 rev",
    "60 s",
    "4.1 MB",
    "link good",
    "4.19",
];

#[test]
fn every_line_is_whole_or_says_that_it_is_cut() {
    for state in states() {
        let mut said = Said::default();
        for row in drawn(&state, WIDE) {
            said.add(&row);
        }
        for words in SHORT_FORMS {
            let row: Vec<String> = words.chars().map(String::from).collect();
            said.add(&row);
        }
        for width in [80, 81, 90, 100, 113, 120, 140, 160, 200] {
            for height in [24, 27, 30, 40, 60] {
                let rows = drawn(&state, (width, height));
                for (index, row) in rows.iter().enumerate() {
                    let below = rows.get(index + 1).map(|row| runs(row));
                    let fault = said.fault(row, &below.unwrap_or_default());
                    let picture: Vec<String> = rows.iter().map(|row| row.concat()).collect();
                    assert!(
                        fault.is_none(),
                        "{} at {width} × {height}, row {index}: {}\n{}",
                        state.name,
                        fault.unwrap_or_default(),
                        picture.join("\n")
                    );
                }
            }
        }
    }
}
