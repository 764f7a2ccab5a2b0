//! Texts from files, cars and arguments made harmless to show.
//!
//! A file name, a mark or a label may hold characters that a terminal obeys, that turn the direction of reading round, or
//! that nobody sees. Each of them is shown as `�`, like bytes that are no UTF-8; in JSON it is escaped, so that nothing is
//! lost.

use std::borrow::Cow;

/// What stands for a character that is not shown as it is.
const INSTEAD: char = char::REPLACEMENT_CHARACTER;

/// Characters of format: Unicode 16, General_Category Cf, Zl and Zp.
///
/// Left out are those that letters need (U+200C and U+200D join letters in Persian and in the languages of India) and those
/// that are seen (the number signs of Arabic, Syriac and Kaithi).
const FORMAT: [(char, char); 15] = [
    ('\u{AD}', '\u{AD}'),
    ('\u{61C}', '\u{61C}'),
    ('\u{180E}', '\u{180E}'),
    ('\u{200B}', '\u{200B}'),
    ('\u{200E}', '\u{200F}'),
    ('\u{2028}', '\u{202E}'),
    ('\u{2060}', '\u{2064}'),
    ('\u{2066}', '\u{206F}'),
    ('\u{FEFF}', '\u{FEFF}'),
    ('\u{FFF9}', '\u{FFFB}'),
    ('\u{13430}', '\u{1343F}'),
    ('\u{1BCA0}', '\u{1BCA3}'),
    ('\u{1D173}', '\u{1D17A}'),
    ('\u{E0001}', '\u{E0001}'),
    ('\u{E0020}', '\u{E007F}'),
];

/// The text as it may be shown on several lines: line ends stay, a tab is a blank.
pub fn text(text: &str) -> Cow<'_, str> {
    if text.chars().all(is_shown) {
        return Cow::Borrowed(text);
    }
    let shown = text.chars().map(|c| match c {
        '\t' => ' ',
        c if is_shown(c) => c,
        _ => INSTEAD,
    });
    Cow::Owned(shown.collect())
}

/// The text as it may be shown within a line: a line end is a blank.
pub fn line(words: &str) -> Cow<'_, str> {
    if !words.contains('\n') {
        text(words)
    } else {
        Cow::Owned(text(&words.replace("\r\n", " ").replace('\n', " ")).into_owned())
    }
}

/// The beginning of a text, with `…` behind it where it was longer than so many characters.
pub fn beginning(text: &str, most: usize) -> Cow<'_, str> {
    match text.char_indices().nth(most) {
        None => Cow::Borrowed(text),
        Some(_) => {
            let kept = text.chars().take(most.saturating_sub(1));
            Cow::Owned(kept.chain(['…']).collect())
        }
    }
}

/// The end of a text, with `…` before it where it was longer than so many characters.
pub fn end(text: &str, most: usize) -> Cow<'_, str> {
    let count = text.chars().count();
    if count <= most {
        return Cow::Borrowed(text);
    }
    let kept = text.chars().skip(count - most.saturating_sub(1));
    Cow::Owned(std::iter::once('…').chain(kept).collect())
}

/// A JSON document with what would not be shown escaped (RFC 8259, section 7); it says what it said.
pub fn json(document: &str) -> Cow<'_, str> {
    if document.chars().all(is_shown) {
        return Cow::Borrowed(document);
    }
    let mut escaped = String::with_capacity(document.len());
    for c in document.chars() {
        // line ends stand between the values only: inside them they are escaped already
        if is_shown(c) {
            escaped.push(c)
        } else {
            escaped.extend(
                c.encode_utf16(&mut [0; 2])
                    .iter()
                    .map(|unit| format!("\\u{unit:04x}")),
            )
        }
    }
    Cow::Owned(escaped)
}

fn is_shown(c: char) -> bool {
    c == '\n' || !is_hidden(c)
}

/// Whether a terminal would obey it, it would turn the text around it, or nobody would see it.
fn is_hidden(c: char) -> bool {
    let among = |(first, last): &(char, char)| (*first..=*last).contains(&c);
    c.is_control() || (!c.is_ascii() && FORMAT.iter().any(among))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_hidden_character_is_one_sign() {
        assert_eq!(text("van\x1b[2J\u{9b}3\u{7}\u{202e}"), "van�[2J�3��");
        assert_eq!(text("a\r\nb\tc\0\x7f"), "a�\nb c��");
        assert_eq!(line("a\nb\r\nc\u{85}"), "a b c�");
    }

    #[test]
    fn a_long_text_is_cut_where_it_shows() {
        assert_eq!(beginning("Wägen", 5), "Wägen");
        assert_eq!(beginning("Wägen 3", 5), "Wäge…");
        assert_eq!(end("Wägen", 5), "Wägen");
        assert_eq!(end("a/Wägen", 5), "…ägen");
    }

    #[test]
    fn what_people_write_stays() {
        for words in [
            "Wägen 3, “Hafenstraße” – 12 °C",
            "فارسی می‌خواهم",
            "क्‍ष",
            "e\u{301}",
            "👩‍🔧",
            "a\u{a0}b",
        ] {
            assert!(matches!(text(words), Cow::Borrowed(_)), "{words}");
            assert!(matches!(json(words), Cow::Borrowed(_)), "{words}");
        }
    }

    #[test]
    fn escaped_json_says_what_it_said() {
        let all: String = ('\0'..='\u{E00FF}').filter(|c| is_hidden(*c)).collect();
        let document = serde_json::to_string(&all).unwrap();
        let shown = json(&document);
        assert!(shown.chars().all(|c| !is_hidden(c)), "{shown}");
        assert_eq!(serde_json::from_str::<String>(&shown).unwrap(), all);
    }
}
