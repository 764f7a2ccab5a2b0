//! One row of a capture and its text, both ways (RFC 4180 quoting).

use std::ops::Range;

use crate::quantity::item_of_request;

/// What kind of row it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kind {
    /// An answer: request and response in hex.
    Data,
    /// Asked, not answered as data; why stands in the response.
    None,
    /// A person's or the program's remark.
    Mark,
    /// State of the link.
    Link,
    /// A number decoded by another logger.
    Value,
}

impl Kind {
    /// The word in the file.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Data => "data",
            Self::None => "none",
            Self::Mark => "mark",
            Self::Link => "link",
            Self::Value => "value",
        }
    }

    fn from_word(word: &[u8]) -> Option<Self> {
        Some(match word {
            b"data" => Self::Data,
            b"none" => Self::None,
            b"mark" => Self::Mark,
            b"link" => Self::Link,
            b"value" => Self::Value,
            _ => return None,
        })
    }
}

/// One row, borrowed from wherever its text stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Row<'a> {
    /// Microseconds since the recording started; never goes back from row to row.
    pub t_us: u64,
    /// What kind of row it is.
    pub kind: Kind,
    /// Address of the answering controller as printed on the bus; empty if unknown.
    pub ecu: &'a str,
    /// What was asked, upper-case hex without spaces; empty for marks and link states.
    pub request: &'a str,
    /// The answer (hex), the reason for none, the remark, the link's state, or the number.
    pub response: &'a str,
}

impl<'a> Row<'a> {
    /// A remark.
    pub const fn mark(t_us: u64, text: &'a str) -> Self {
        Self::note(t_us, Kind::Mark, text)
    }

    /// A state of the link.
    pub const fn link(t_us: u64, text: &'a str) -> Self {
        Self::note(t_us, Kind::Link, text)
    }

    const fn note(t_us: u64, kind: Kind, response: &'a str) -> Self {
        Self {
            t_us,
            kind,
            ecu: "",
            request: "",
            response,
        }
    }

    /// Appends the row's text, with the line end.
    pub fn append_to(&self, text: &mut Vec<u8>) {
        text.extend_from_slice(self.t_us.to_string().as_bytes());
        text.push(b',');
        text.extend_from_slice(self.kind.word().as_bytes());
        for field in [self.ecu, self.request, self.response] {
            text.push(b',');
            append_field(text, field);
        }
        text.push(b'\n');
    }
}

fn append_field(text: &mut Vec<u8>, field: &str) {
    if !field
        .bytes()
        .any(|b| matches!(b, b',' | b'"' | b'\n' | b'\r'))
    {
        text.extend_from_slice(field.as_bytes());
        return;
    }
    text.push(b'"');
    for byte in field.bytes() {
        if byte == b'"' {
            text.push(b'"');
        }
        text.push(byte);
    }
    text.push(b'"');
}

/// A row that owns its text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OwnedRow {
    outline: Outline,
    text: Box<str>,
}

impl OwnedRow {
    /// The row.
    pub fn as_row(&self) -> Row<'_> {
        self.outline.row(&self.text)
    }
}

impl From<&Row<'_>> for OwnedRow {
    fn from(row: &Row<'_>) -> Self {
        let text = [row.ecu, row.request, row.response].concat();
        let (ecu, request) = (row.ecu.len(), row.ecu.len() + row.request.len());
        Self {
            outline: Outline {
                t_us: row.t_us,
                kind: row.kind,
                fields: [0..ecu, ecu..request, request..text.len()],
            },
            text: text.into(),
        }
    }
}

/// Where the parts of a row stand in a text; the row without the borrow.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Outline {
    pub t_us: u64,
    pub kind: Kind,
    fields: [Range<usize>; 3],
}

impl Outline {
    /// Finds the parts of a record without quotes and without line end; the error is what is wrong with it.
    pub fn of_plain(record: &str) -> Result<Self, &'static str> {
        let mut commas = memchr::memchr_iter(b',', record.as_bytes());
        let mut comma = || commas.next().ok_or("fewer than five fields");
        let ends = [comma()?, comma()?, comma()?, comma()?];
        if commas.next().is_some() {
            return Err("more than five fields");
        }
        Self::checked(record, ends)
    }

    /// Finds the parts of a record with quotes, whose fields are written without quotes into `plain`; the error is what
    /// is wrong with the record.
    pub fn of_quoted(record: &str, plain: &mut String) -> Result<Self, &'static str> {
        plain.clear();
        let mut ends = [0; 4];
        let mut rest = record;
        for end in &mut ends {
            let after = unquote_field(rest, plain)?;
            rest = after.strip_prefix(',').ok_or("fewer than five fields")?;
            *end = plain.len();
            plain.push(',');
        }
        if !unquote_field(rest, plain)?.is_empty() {
            return Err("more than five fields");
        }
        Self::checked(plain, ends)
    }

    fn checked(text: &str, [time, kind, ecu, request]: [usize; 4]) -> Result<Self, &'static str> {
        let field = |range: Range<usize>| text.as_bytes().get(range).unwrap_or_default();
        let t_us = decimal(field(0..time)).ok_or("the time is not a whole number")?;
        let kind = Kind::from_word(field(time + 1..kind))
            .ok_or("the kind is none of data, none, mark, link, value")
            .map(|word| (word, kind))?;
        let outline = Self {
            t_us,
            kind: kind.0,
            fields: [kind.1 + 1..ecu, ecu + 1..request, request + 1..text.len()],
        };
        outline.row(text).checked()?;
        Ok(outline)
    }

    /// The row, given the text that the outline was made of.
    pub fn row<'a>(&self, text: &'a str) -> Row<'a> {
        let [ecu, request, response] = &self.fields;
        let field = |range: &Range<usize>| text.get(range.clone()).unwrap_or_default();
        Row {
            t_us: self.t_us,
            kind: self.kind,
            ecu: field(ecu),
            request: field(request),
            response: field(response),
        }
    }
}

impl Row<'_> {
    /// Checks what every reader of the row may rely on.
    fn checked(&self) -> Result<(), &'static str> {
        let hex = |text: &str| {
            !text.is_empty()
                && text.len().is_multiple_of(2)
                && text.bytes().all(|byte| byte.is_ascii_hexdigit())
        };
        match self.kind {
            Kind::Data if !hex(self.request) => Err("the request is not hex"),
            Kind::Data if !hex(self.response) => Err("the response is not hex"),
            Kind::Value if !hex(self.request) => Err("the request is not hex"),
            Kind::Value => match self.response.parse::<f64>() {
                Ok(number) if number.is_finite() => match item_of_request(self.request) {
                    Some(item) if !item.can_be(number) => {
                        Err("the value is impossible for its quantity")
                    }
                    _ => Ok(()),
                },
                _ => Err("the value is not a number"),
            },
            _ => Ok(()),
        }
    }
}

/// Copies the field at the start of `rest` into `plain` without its quotes and gives what follows it.
fn unquote_field<'a>(rest: &'a str, plain: &mut String) -> Result<&'a str, &'static str> {
    let Some(mut rest) = rest.strip_prefix('"') else {
        let end = rest.find(',').unwrap_or(rest.len());
        let (field, after) = rest.split_at(end);
        plain.push_str(field);
        return Ok(after);
    };
    loop {
        let (part, after) = rest.split_once('"').ok_or("a quote is not closed")?;
        plain.push_str(part);
        let Some(again) = after.strip_prefix('"') else {
            return Ok(after);
        };
        plain.push('"');
        rest = again;
    }
}

/// A whole decimal number, digits only.
fn decimal(digits: &[u8]) -> Option<u64> {
    if digits.is_empty() {
        return None;
    }
    digits.iter().try_fold(0_u64, |number, byte| {
        let digit = byte.wrapping_sub(b'0');
        if digit > 9 {
            return None;
        }
        number.checked_mul(10)?.checked_add(digit.into())
    })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn text_of(row: &Row<'_>) -> String {
        let mut bytes = Vec::new();
        row.append_to(&mut bytes);
        String::from_utf8(bytes).unwrap()
    }

    fn any_kind() -> impl Strategy<Value = Kind> {
        prop_oneof![Just(Kind::Mark), Just(Kind::Link), Just(Kind::None)]
    }

    proptest! {
        #[test]
        fn every_row_reads_back_as_written(
            t_us: u64, kind in any_kind(), ecu in ".{0,8}", request in ".{0,8}", response in "(?s).{0,40}",
        ) {
            let row = Row { t_us, kind, ecu: &ecu, request: &request, response: &response };
            let owned = OwnedRow::from(&row);
            prop_assert_eq!(owned.as_row(), row);
            let text = text_of(&row);
            let mut plain = String::new();
            let record = text.strip_suffix('\n').unwrap();
            let outline = Outline::of_quoted(record, &mut plain).unwrap();
            prop_assert_eq!(outline.row(&plain), row);
            if !text.contains('"') {
                prop_assert_eq!(Outline::of_plain(record).unwrap().row(record), row);
            }
        }

        #[test]
        fn no_text_breaks_the_reading(record in "(?s).{0,60}") {
            let _ = Outline::of_plain(&record);
            let _ = Outline::of_quoted(&record, &mut String::new());
        }
    }

    #[test]
    fn the_rows_of_the_format_description_are_read() {
        for record in [
            "0,mark,,,recording starts",
            "152310,data,7E8,010C0607,410C0BB806800784",
            "172000,none,7E8,0162,NO DATA",
            "1200450,link,,,lost: device disconnected",
            "5,value,,0106,-3.125",
        ] {
            let row = Outline::of_plain(record).unwrap();
            assert_eq!(text_of(&row.row(record)).trim_end(), record);
        }
    }

    #[test]
    fn what_is_wrong_with_a_row_is_said() {
        for (record, problem) in [
            ("12,data,7E8,010C", "fewer than five fields"),
            ("12,data,7E8,010C,41,0C", "more than five fields"),
            ("-12,mark,,,x", "the time is not a whole number"),
            (",mark,,,x", "the time is not a whole number"),
            (
                "99999999999999999999,mark,,,x",
                "the time is not a whole number",
            ),
            (
                "12,dato,,,x",
                "the kind is none of data, none, mark, link, value",
            ),
            ("12,data,7E8,010C,410", "the response is not hex"),
            ("12,data,7E8,,410C0000", "the request is not hex"),
            ("12,value,,0105,warm", "the value is not a number"),
            ("12,value,,0105,NaN", "the value is not a number"),
        ] {
            assert_eq!(Outline::of_plain(record), Err(problem), "{record}");
        }
        let open = Outline::of_quoted("12,mark,,,\"x", &mut String::new());
        assert_eq!(open, Err("a quote is not closed"));
    }
}
