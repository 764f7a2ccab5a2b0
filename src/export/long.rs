//! One row a quantity: `t_us,ecu,request,name,value,unit,text`.

use std::{io::Write, path::Path};

use pintle_protocol::{
    Item, Pid,
    pid::readiness::Ignition,
    service::{Answer, CodeList, Counter, Information, MonitorResult, current_data},
};

use super::{Exported, Gaps, cell::cell, error::ExportError, number};
use crate::{
    capture::{Kind, Reader, Row, answer, numbers},
    quantity,
};

/// Headings of the columns.
const COLUMNS: [&str; 7] = ["t_us", "ecu", "request", "name", "value", "unit", "text"];

/// The part of a row that is the quantity's own.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
struct Cells {
    request: String,
    name: String,
    value: String,
    unit: String,
    text: String,
}

/// Writes every quantity of every controller as a row of its own.
///
/// Marks and link states are no quantities; an answer that cannot be decoded keeps its bytes, as hex in `text`.
///
/// # Errors
/// When the capture cannot be read or the result cannot be written.
pub fn long(path: &Path, out: impl Write) -> Result<Exported, ExportError> {
    let mut reader = Reader::open(path)?;
    let mut table = csv::Writer::from_writer(out);
    table.write_record(COLUMNS)?;
    while let Some(row) = reader.next_row()? {
        let t_us = row.t_us.to_string();
        for cells in cells_of(&row) {
            let Cells {
                request,
                name,
                value,
                unit,
                text,
            } = &cells;
            for text in [&t_us, row.ecu, request, name, value, unit, text] {
                table.write_field(&*cell(text))?;
            }
            table.write_record(None::<&[u8]>)?;
        }
    }
    table.flush()?;
    Ok(Exported {
        damage: reader.damage().clone(),
        gaps: Gaps::default(),
    })
}

fn cells_of(row: &Row<'_>) -> Vec<Cells> {
    let mut cells = Vec::new();
    match row.kind {
        Kind::Value => numbers(row, |item, value| cells.push(Cells::of_number(item, value))),
        Kind::Data => match answer(row) {
            Some(answer) => cells_of_answer(&answer, &mut cells),
            None => cells.push(Cells::undecoded(row)),
        },
        Kind::None | Kind::Mark | Kind::Link => return cells,
    }
    if cells.is_empty() {
        cells.push(Cells::undecoded(row));
    }
    cells
}

fn cells_of_answer(answer: &Answer, cells: &mut Vec<Cells>) {
    match answer {
        Answer::Current(parameters) => {
            for (pid, data) in parameters {
                cells_of_parameter(*pid, data, cells);
            }
        }
        Answer::FreezeFrame { frame, pid, data } => cells_of_frozen(*pid, *frame, data, cells),
        Answer::Snapshots { code, snapshots } => {
            for snapshot in snapshots {
                for (pid, data) in &snapshot.values {
                    cells_of_frozen(*pid, snapshot.record, data, cells);
                }
            }
            if snapshots.is_empty() {
                cells.push(Cells {
                    name: "freeze frame".to_owned(),
                    text: format!("none of {code}"),
                    ..Cells::default()
                });
            }
        }
        Answer::MonitorResults(results) => cells.extend(results.iter().map(Cells::of_result)),
        Answer::Codes { list, codes } => {
            let codes: Vec<String> = codes.iter().map(ToString::to_string).collect();
            cells.push(Cells::of_codes(*list, &codes));
        }
        Answer::VehicleIdentificationNumber(text) => cells.push(Cells {
            request: "0902".to_owned(),
            name: "vehicle identification number".to_owned(),
            text: text.clone(),
            ..Cells::default()
        }),
        Answer::Information(information) => cells_of_information(information, cells),
        Answer::Supported { .. }
        | Answer::Cleared
        | Answer::Negative { .. }
        | Answer::Unknown(_) => {}
    }
}

fn cells_of_information(information: &Information, cells: &mut Vec<Cells>) {
    let (request, name, text) = match information {
        Information::CalibrationIdentifiers(names) => {
            ("0904", "calibration identifiers", names.join(" "))
        }
        Information::CalibrationNumbers(numbers) => {
            let numbers: Vec<String> = numbers.iter().map(|one| format!("{one:08X}")).collect();
            ("0906", "calibration check numbers", numbers.join(" "))
        }
        Information::ControllerName(name) => ("090A", "controller name", name.clone()),
        Information::Performance { ignition, counters } => {
            return cells.extend(counters.iter().map(|one| Cells::of_counter(*ignition, one)));
        }
    };
    cells.push(Cells {
        request: request.to_owned(),
        name: name.to_owned(),
        text,
        ..Cells::default()
    });
}

/// A parameter as it was when a code was stored.
fn cells_of_frozen(pid: Pid, frame: u8, data: &[u8], cells: &mut Vec<Cells>) {
    let from = cells.len();
    cells_of_parameter(pid, data, cells);
    for cells in cells.iter_mut().skip(from) {
        cells.request = format!("02{pid}{frame:02X}");
    }
}

fn cells_of_parameter(pid: Pid, data: &[u8], cells: &mut Vec<Cells>) {
    let from = cells.len();
    current_data::numbers_of(pid, data, |item, value| {
        cells.push(Cells::of_number(item, value))
    });
    if cells.len() == from {
        cells.push(Cells {
            request: Item::current(pid).to_string(),
            text: data.iter().map(|byte| format!("{byte:02X}")).collect(),
            ..Cells::default()
        });
    }
}

impl Cells {
    fn of_number(item: Item, value: f64) -> Self {
        let text = quantity::text(item, value);
        Self {
            request: item.to_string(),
            name: quantity::name(item).unwrap_or_default(),
            value: number::text(value),
            unit: quantity::unit(item)
                .map_or("", |unit| unit.symbol())
                .to_owned(),
            text: text.unwrap_or_default(),
        }
    }

    fn of_result(result: &MonitorResult) -> Self {
        let item = Item::monitor(result.mid, result.tid);
        let value = result.value().map(number::text).unwrap_or_default();
        let text = match result.limits() {
            Some((low, high)) => format!("limits {} to {}", number::text(low), number::text(high)),
            None if result.has_run() => format!(
                "scaling {:02X} unknown, raw {}",
                result.scaling_id, result.raw
            ),
            None => "not run".to_owned(),
        };
        Self {
            request: item.to_string(),
            name: quantity::name(item).unwrap_or_default(),
            value,
            unit: result
                .scaling()
                .map_or("", |scaling| scaling.unit.symbol())
                .to_owned(),
            text,
        }
    }

    fn of_counter(ignition: Ignition, counter: &Counter) -> Self {
        let request = match ignition {
            Ignition::Spark => "0908",
            Ignition::Compression => "090B",
        };
        Self {
            request: request.to_owned(),
            name: counter.name.unwrap_or_default().to_owned(),
            value: counter.count.to_string(),
            ..Self::default()
        }
    }

    fn of_codes(list: CodeList, codes: &[String]) -> Self {
        let (request, name) = match list {
            CodeList::Stored => ("03", "stored trouble codes"),
            CodeList::Pending => ("07", "pending trouble codes"),
            CodeList::Permanent => ("0A", "permanent trouble codes"),
        };
        Self {
            request: request.to_owned(),
            name: name.to_owned(),
            value: codes.len().to_string(),
            text: codes.join(" "),
            ..Self::default()
        }
    }

    fn undecoded(row: &Row<'_>) -> Self {
        Self {
            request: row.request.to_owned(),
            text: row.response.to_owned(),
            ..Self::default()
        }
    }
}
