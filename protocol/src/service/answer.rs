//! An answer matched to its question: what it says, whatever the service.

use super::{
    code_list::CodeList,
    current_data,
    fault_memory::{self, ReportedCode, Snapshot},
    identifier::{self, Kind},
    monitor_results::{self, MonitorResult},
    split, trouble_codes,
    vehicle_information::{Body, Information, information, vehicle_identification_number},
};
use crate::{
    error::DecodeError,
    pid::{Pid, support},
};

/// What an answer says. Services 22, 19 and 14 of newer cars say the same as those of SAE J1979.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Answer {
    /// Service 01 and identifiers F4xx: parameters with their data bytes.
    Current(Vec<(Pid, Vec<u8>)>),
    /// Service 02: a parameter as it was when a code was stored, with its data bytes.
    FreezeFrame {
        /// Number of the frame.
        frame: u8,
        /// The parameter.
        pid: Pid,
        /// Its data bytes.
        data: Vec<u8>,
    },
    /// Service 19: what was noted down when a code was stored.
    Snapshots {
        /// The code.
        code: ReportedCode,
        /// What was noted down, nothing for a code without.
        snapshots: Vec<Snapshot>,
    },
    /// Services 03, 07, 0A and 19: trouble codes.
    Codes {
        /// Which list.
        list: CodeList,
        /// Its codes.
        codes: Vec<ReportedCode>,
    },
    /// Services 04 and 14: codes, freeze frame and results are cleared.
    Cleared,
    /// Services 06 and 09, identifiers F6xx and F8xx: which items there are.
    Supported {
        /// The service of SAE J1979 that brings these items.
        service: u8,
        /// First item number (00, 20, …) and mask, as [`support::supported`] reads it.
        masks: Vec<(u8, [u8; 4])>,
    },
    /// Service 06 and identifiers F6xx: test values with limits, those that have not run included.
    MonitorResults(Vec<MonitorResult>),
    /// Service 09, information type 02; identifier F802.
    VehicleIdentificationNumber(String),
    /// Service 09 and identifiers F8xx, other information.
    Information(Information),
    /// A negative answer.
    Negative {
        /// The service that was refused.
        service: u8,
        /// Why, by the standard's number; [`super::negative::meaning`] says it in words.
        code: u8,
    },
    /// Anything else, kept as it came.
    Unknown(Vec<u8>),
}

/// What an answer says. Services and items that are not known here give [`Answer::Unknown`], and so
/// do test results of the buses before CAN.
///
/// # Errors
/// When the answer is not one to this request or its bytes do not fit.
pub fn decode(request: &[u8], response: &[u8]) -> Result<Answer, DecodeError> {
    let Some(&service) = request.first() else {
        return Err(DecodeError::at(request, 0, "a request"));
    };
    if let [0x7F, refused, reason @ ..] = response
        && *refused == service
    {
        return Ok(negative(service, reason, response));
    }
    let positive = service.wrapping_add(0x40);
    if response.first() != Some(&positive) {
        return Err(DecodeError::at(response, 0, format!("{positive:02X}")));
    }
    match service {
        0x01 => current(request, response),
        0x02 => freeze_frame(request, response),
        0x03 => codes(CodeList::Stored, response),
        0x04 => Ok(Answer::Cleared),
        0x06 => test_results(request, response),
        0x07 => codes(CodeList::Pending, response),
        0x09 => vehicle(request, response),
        0x0A => codes(CodeList::Permanent, response),
        0x14 => Ok(Answer::Cleared),
        0x19 => fault_memory(request, response),
        identifier::READ => identified(request, response),
        _ => Ok(Answer::Unknown(response.to_vec())),
    }
}

/// On J1850 the request is repeated before the reason; that form stays raw.
fn negative(service: u8, reason: &[u8], response: &[u8]) -> Answer {
    match reason {
        [code] => Answer::Negative {
            service,
            code: *code,
        },
        _ => Answer::Unknown(response.to_vec()),
    }
}

fn freeze_frame(request: &[u8], response: &[u8]) -> Result<Answer, DecodeError> {
    let [_, asked, frame @ ..] = request else {
        return Err(DecodeError::at(request, 1, "a parameter"));
    };
    let [_, pid, answered, data @ ..] = response else {
        return Err(DecodeError::at(
            response,
            response.len(),
            "a parameter and a frame",
        ));
    };
    match frame {
        [] | [_] => {}
        // Several parameters at once.
        _ => return Ok(Answer::Unknown(response.to_vec())),
    }
    if pid != asked {
        return Err(DecodeError::at(
            response,
            1,
            format!("parameter {asked:02X}"),
        ));
    }
    if frame.first().is_some_and(|frame| frame != answered) {
        return Err(DecodeError::at(response, 2, "the frame asked for"));
    }
    split::check_length(Pid(*pid), data.len())
        .map_err(|expected| DecodeError::at(response, response.len(), expected))?;
    Ok(Answer::FreezeFrame {
        frame: *answered,
        pid: Pid(*pid),
        data: data.to_vec(),
    })
}

fn codes(list: CodeList, response: &[u8]) -> Result<Answer, DecodeError> {
    let codes = trouble_codes::codes(response)?;
    let codes = codes.into_iter().map(ReportedCode::from).collect();
    Ok(Answer::Codes { list, codes })
}

fn fault_memory(request: &[u8], response: &[u8]) -> Result<Answer, DecodeError> {
    let known = if let [_, super::request::SNAPSHOTS, ..] = request {
        fault_memory::snapshots(request, response)?
            .map(|(code, snapshots)| Answer::Snapshots { code, snapshots })
    } else {
        fault_memory::codes(request, response)?.map(|(list, codes)| Answer::Codes { list, codes })
    };
    Ok(known.unwrap_or_else(|| Answer::Unknown(response.to_vec())))
}

/// Items by their identifiers. Several are told apart when all are parameters or all are support
/// masks.
fn identified(request: &[u8], response: &[u8]) -> Result<Answer, DecodeError> {
    let unknown = || Ok(Answer::Unknown(response.to_vec()));
    let (identifiers, odd) = request.get(1..).unwrap_or_default().as_chunks::<2>();
    let Some(kind) = identifiers
        .first()
        .and_then(|[high, _]| Kind::of_high(*high))
    else {
        return unknown();
    };
    let one_kind = identifiers.iter().all(|[high, _]| *high == kind.high());
    if !one_kind || !odd.is_empty() {
        return unknown();
    }
    match (kind, identifiers) {
        (Kind::Current, _) => current(request, response),
        (_, several) if several.iter().all(|[_, number]| support::is_mask(*number)) => {
            Ok(supported_identifiers(kind, several, response))
        }
        (Kind::Monitor, [_]) => monitor_results::records(request, response)
            .map(|records| Answer::MonitorResults(records.collect())),
        (Kind::Information, [[_, info_type]]) => {
            if response.get(1..3) != request.get(1..3) {
                let expected = "the identifier asked for";
                return Err(DecodeError::at(response, 1, expected));
            }
            let body = Body {
                response,
                at: 3,
                may_be_uncounted: true,
            };
            vehicle_item(*info_type, body)
        }
        _ => unknown(),
    }
}

fn supported_identifiers(kind: Kind, asked: &[[u8; 2]], response: &[u8]) -> Answer {
    let (pieces, odd) = response.get(1..).unwrap_or_default().as_chunks::<6>();
    let was_asked = |[high, base, ..]: &[u8; 6]| asked.contains(&[*high, *base]);
    if pieces.is_empty() || !odd.is_empty() || !pieces.iter().all(was_asked) {
        return Answer::Unknown(response.to_vec());
    }
    let mask = |[_, base, a, b, c, d]: &[u8; 6]| (*base, [*a, *b, *c, *d]);
    Answer::Supported {
        service: kind.service(),
        masks: pieces.iter().map(mask).collect(),
    }
}

fn test_results(request: &[u8], response: &[u8]) -> Result<Answer, DecodeError> {
    if asks_masks(request) {
        return Ok(supported(request, response));
    }
    let error = match monitor_results::records(request, response) {
        Ok(records) => return Ok(Answer::MonitorResults(records.collect())),
        Err(error) => error,
    };
    match (request, response) {
        ([_, asked], [_, bytes @ ..]) if monitor_results::is_older_form(*asked, bytes) => {
            Ok(Answer::Unknown(response.to_vec()))
        }
        _ => Err(error),
    }
}

fn vehicle(request: &[u8], response: &[u8]) -> Result<Answer, DecodeError> {
    if asks_masks(request) {
        return Ok(supported(request, response));
    }
    if response.get(1) != request.get(1) {
        return Err(DecodeError::at(
            response,
            1,
            "the information type asked for",
        ));
    }
    let body = Body {
        response,
        at: 2,
        may_be_uncounted: false,
    };
    match response.get(1) {
        Some(info_type) => vehicle_item(*info_type, body),
        None => Ok(Answer::Unknown(response.to_vec())),
    }
}

fn vehicle_item(info_type: u8, body: Body<'_>) -> Result<Answer, DecodeError> {
    let known = match info_type {
        0x02 => {
            vehicle_identification_number(body.bytes()).map(Answer::VehicleIdentificationNumber)
        }
        _ => information(info_type, body)?.map(Answer::Information),
    };
    Ok(known.unwrap_or_else(|| Answer::Unknown(body.response.to_vec())))
}

fn asks_masks(request: &[u8]) -> bool {
    matches!(request, [_, first, ..] if support::is_mask(*first))
}

/// Item number and mask, again and again; anything else stays raw.
fn supported(request: &[u8], response: &[u8]) -> Answer {
    let (service, asked) = request.split_first().unwrap_or((&0, &[]));
    let (pieces, odd) = response.get(1..).unwrap_or_default().as_chunks::<5>();
    let all_asked = pieces.iter().all(|piece| asked.contains(&piece[0]));
    if pieces.is_empty() || !odd.is_empty() || !all_asked {
        return Answer::Unknown(response.to_vec());
    }
    let mask = |[base, a, b, c, d]: &[u8; 5]| (*base, [*a, *b, *c, *d]);
    Answer::Supported {
        service: *service,
        masks: pieces.iter().map(mask).collect(),
    }
}

fn current(request: &[u8], response: &[u8]) -> Result<Answer, DecodeError> {
    let mut parameters = Vec::new();
    current_data::for_each_parameter(request, response, |pid, data| {
        parameters.push((pid, data.to_vec()));
    })?;
    Ok(Answer::Current(parameters))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dtc::TroubleCode;

    #[test]
    fn each_service_gives_its_kind_of_answer() {
        let parameters = vec![(Pid(0x0C), vec![0x0B, 0xB8])];
        assert_eq!(
            decode(&[1, 0x0C], &[0x41, 0x0C, 0x0B, 0xB8]),
            Ok(Answer::Current(parameters))
        );
        let frame = Answer::FreezeFrame {
            frame: 0,
            pid: Pid(5),
            data: vec![0x7B],
        };
        assert_eq!(decode(&[2, 5, 0], &[0x42, 5, 0, 0x7B]), Ok(frame));
        let codes = Answer::Codes {
            list: CodeList::Pending,
            codes: vec![TroubleCode(0x0301).into()],
        };
        assert_eq!(decode(&[7], &[0x47, 1, 0x03, 0x01]), Ok(codes));
        let refused = Answer::Negative {
            service: 0x0A,
            code: 0x11,
        };
        assert_eq!(decode(&[0x0A], &[0x7F, 0x0A, 0x11]), Ok(refused));
        assert_eq!(decode(&[4], &[0x44]), Ok(Answer::Cleared));
        let masks = Answer::Supported {
            service: 6,
            masks: vec![(0x00, [0xC0, 0, 0, 1]), (0x20, [0x80, 0, 0, 0])],
        };
        let response = [0x46, 0x00, 0xC0, 0, 0, 1, 0x20, 0x80, 0, 0, 0];
        assert_eq!(decode(&[6, 0x00, 0x20], &response), Ok(masks));
    }

    #[test]
    fn what_is_not_known_stays_raw() {
        for (request, response) in [
            (&[0x08, 0x01][..], &[0x48, 0x01, 0, 0][..]),
            (&[0x09, 0x0D], &[0x49, 0x0D, 1, 2, 3]),
            // A test result and a mask as they come on the older buses.
            (&[0x06, 0x05], &[0x46, 0x05, 0x01, 0x00, 0x20, 0x00, 0x40]),
            (&[0x06, 0x00], &[0x46, 0x00, 0xFF, 0xC0, 0, 0, 1]),
            // Two frozen parameters at once.
            (
                &[2, 5, 0, 0x0C, 0],
                &[0x42, 5, 0, 0x7B, 0x0C, 0, 0x0B, 0xB8],
            ),
            (&[1, 0x0C], &[0x7F, 0x01, 0x0C, 0, 0, 0x12]),
        ] {
            let raw = Answer::Unknown(response.to_vec());
            assert_eq!(decode(request, response), Ok(raw), "{request:02X?}");
        }
    }

    #[test]
    fn answers_that_do_not_fit_their_question_are_refused() {
        for (request, response) in [
            (&[2, 5, 0][..], &[0x42, 5, 0, 0x7B, 0x00][..]),
            (&[2, 5, 0], &[0x42, 5, 1, 0x7B]),
            (&[2, 5, 0], &[0x42, 0x0C, 0, 0x0B, 0xB8]),
            (&[2, 5, 0], &[0x42, 5]),
            (&[9, 2], &[0x49, 4, 1]),
            (&[9, 4], &[0x49, 4, 1]),
            (&[7], &[0x7F, 3, 0x11]),
            (&[6, 0xA2], &[0x46, 0xA2, 0x0C, 0x24, 0, 5]),
        ] {
            assert!(decode(request, response).is_err(), "{response:02X?}");
        }
    }

    #[test]
    fn an_answer_to_something_else_is_refused() {
        let error = decode(&[1, 0x0C], &[0x49, 2]).unwrap_err();
        assert_eq!(error.to_string(), "at byte 0: expected 41, found byte 49");
        assert!(decode(&[], &[0x41]).is_err());
        assert!(decode(&[1, 0x0C], &[]).is_err());
    }
}
