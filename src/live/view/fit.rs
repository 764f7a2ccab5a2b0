//! Words that fit a width: nothing is cut without `…`, and what must not be cut is left whole or left out.
//!
//! Widths are those of a terminal's cells: a wide letter takes two, a combining one none.

use ratatui::{
    style::Style,
    text::{Line, Span},
};

/// What stands for the words that have no room.
const MORE: &str = "…";

/// Cells that a text takes.
pub fn width_of(words: &str) -> u16 {
    u16::try_from(Span::raw(words).width()).unwrap_or(u16::MAX)
}

/// The line, or as much of it as fits and `…`.
pub fn fitted<'a>(line: Line<'a>, width: u16) -> Line<'a> {
    if line.width() <= usize::from(width) {
        return line;
    }
    let room = usize::from(width).saturating_sub(1);
    let mut used = 0;
    let mut kept: Vec<Span<'a>> = Vec::new();
    let mut last = line.style;
    for span in line.spans {
        let whole = span.width();
        last = span.style;
        if used + whole <= room {
            used += whole;
            kept.push(span);
            continue;
        }
        let (beginning, _) = split(&span.content, room - used);
        kept.push(Span::styled(beginning.to_owned(), span.style));
        break;
    }
    // no blank before the sign
    while let Some(end) = kept.last_mut() {
        let trimmed = end.content.trim_end().to_owned();
        if !trimmed.is_empty() {
            end.content = trimmed.into();
            break;
        }
        kept.pop();
    }
    if width > 0 {
        kept.push(Span::styled(MORE, last));
    }
    Line::from(kept).style(line.style)
}

/// The text, or as much of it as fits and `…`.
pub fn shortened(words: &str, width: u16) -> String {
    fitted(Line::raw(words.to_owned()), width).to_string()
}

/// The end of the text with `…` before it, where the text is wider: of what is being typed, its end is of interest.
pub fn end_of(words: &str, width: u16) -> String {
    if width_of(words) <= width {
        return words.to_owned();
    }
    let mut end = words;
    while width_of(end) >= width.max(1) {
        let mut letters = end.chars();
        letters.next();
        end = letters.as_str();
    }
    format!("{MORE}{end}")
}

/// The first of these that fits whole; without one, the beginning of the last.
pub fn first_that_fits(choices: &[String], width: u16) -> String {
    let fits = choices.iter().find(|choice| width_of(choice) <= width);
    let last = || shortened(choices.last().map_or("", String::as_str), width);
    fits.cloned().unwrap_or_else(last)
}

/// Pieces behind a beginning, as many as fit whole, and `…` for the others.
pub fn listed(beginning: &str, pieces: &[String], width: u16) -> String {
    let all = format!("{beginning}{}", pieces.join(", "));
    let fewer = (0..pieces.len()).rev().map(|kept| {
        let kept = pieces.iter().take(kept).map(|piece| format!("{piece}, "));
        format!("{beginning}{}{MORE}", kept.collect::<String>())
    });
    let choices: Vec<String> = std::iter::once(all).chain(fewer).collect();
    first_that_fits(&choices, width)
}

/// A sentence broken between words into lines of this width; only a word that is wider than a line is broken itself.
pub fn wrapped(words: &str, width: u16) -> Vec<String> {
    let width = usize::from(width.max(1));
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    for word in words.split_whitespace() {
        let mut word = word;
        let with_word = Span::raw(line.as_str()).width() + 1 + Span::raw(word).width();
        if !line.is_empty() && with_word <= width {
            line.push(' ');
        } else if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        while Span::raw(word).width() > width {
            let (beginning, rest) = split(word, width);
            if beginning.is_empty() {
                break;
            }
            lines.push(beginning.to_owned());
            word = rest;
        }
        line.push_str(word);
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

/// The longest beginning that takes no more than so many cells, and the rest; a letter stays with its accents.
fn split(words: &str, cells: usize) -> (&str, &str) {
    let line = Line::raw(words);
    let mut end = 0;
    for letter in line.styled_graphemes(Style::new()) {
        let next = end + letter.symbol.len();
        match words.get(..next) {
            Some(beginning) if Span::raw(beginning).width() <= cells => end = next,
            _ => break,
        }
    }
    words.split_at_checked(end).unwrap_or((words, ""))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn what_is_cut_says_so() {
        assert_eq!(shortened("overrun, no fuel", 16), "overrun, no fuel");
        assert_eq!(shortened("overrun, no fuel", 15), "overrun, no fu…");
        assert_eq!(shortened("overrun, no fuel", 10), "overrun,…");
        assert_eq!(shortened("燃料", 3), "燃…");
        assert_eq!(shortened("燃料", 2), "…");
        assert_eq!(shortened("x", 0), "");
        assert_eq!(end_of("hose of cylinder 3", 11), "…cylinder 3");
    }

    #[test]
    fn pieces_are_whole_or_not_there() {
        let pieces = ["warm idle 1:00", "2500 rpm 1:02"].map(str::to_owned);
        let list = |width| listed("Still needed: ", &pieces, width);
        assert_eq!(list(43), "Still needed: warm idle 1:00, 2500 rpm 1:02");
        assert_eq!(list(42), "Still needed: warm idle 1:00, …");
        assert_eq!(list(30), "Still needed: …");
    }

    proptest! {
        #[test]
        fn no_line_is_wider_than_asked_for_and_no_word_is_lost(
            words in "[a-zé燃e\u{301} ]{0,80}",
            width in 2_u16..40,
        ) {
            let lines = wrapped(&words, width);
            for line in &lines {
                prop_assert!(width_of(line) <= width, "{line:?}");
            }
            let letters = |text: &str| text.chars().filter(|c| !c.is_whitespace()).collect::<String>();
            prop_assert_eq!(letters(&lines.concat()), letters(&words));
            let short = shortened(&words, width);
            prop_assert!(width_of(&short) <= width);
            prop_assert!(short == words || short.ends_with('…'));
        }
    }
}
