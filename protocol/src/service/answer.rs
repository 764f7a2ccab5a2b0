//! An answer matched to its question: what it says, whatever the service.

use super::{
    current_data,
    monitor_results::{self, MonitorResult},
    trouble_codes,
    vehicle_information::vehicle_identification_number,
};
use crate::{dtc::TroubleCode, error::DecodeError, pid::Pid};

/// What an answer says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Answer {
    /// Service 01: parameters with their data bytes.
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
    /// Services 03, 07, 0A: trouble codes.
    Codes {
        /// Which list.
        list: CodeList,
        /// Its codes.
        codes: Vec<TroubleCode>,
    },
    /// Service 06: test values with limits, those that have not run included.
    MonitorResults(Vec<MonitorResult>),
    /// Service 09, information type 02.
    VehicleIdentificationNumber(String),
    /// A negative answer.
    Negative {
        /// The service that was refused.
        service: u8,
        /// Why, by the standard's number.
        code: u8,
    },
    /// Anything else, kept as it came.
    Unknown(Vec<u8>),
}

/// The lists in which a controller keeps codes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum CodeList {
    /// Confirmed (service 03).
    Stored,
    /// This or the last driving cycle (service 07).
    Pending,
    /// Permanent (service 0A).
    Permanent,
}

/// What an answer says. Services that are not known here give [`Answer::Unknown`].
///
/// # Errors
/// When the answer is not one to this request or its bytes do not fit.
pub fn decode(request: &[u8], response: &[u8]) -> Result<Answer, DecodeError> {
    let Some(service) = request.first() else {
        return Err(DecodeError::at(request, 0, "a request"));
    };
    if let [0x7F, service, code, ..] = response {
        return Ok(Answer::Negative {
            service: *service,
            code: *code,
        });
    }
    if response.first() != Some(&service.wrapping_add(0x40)) {
        let expected = format!("{:02X}", service.wrapping_add(0x40));
        return Err(DecodeError::at(response, 0, expected));
    }
    let rest = response.get(1..).unwrap_or_default();
    let codes = |list| Answer::Codes {
        list,
        codes: trouble_codes::codes(rest),
    };
    Ok(match (service, rest) {
        (0x01, _) => current(request, response)?,
        (0x02, [pid, frame, data @ ..]) => Answer::FreezeFrame {
            frame: *frame,
            pid: Pid(*pid),
            data: data.to_vec(),
        },
        (0x03, _) => codes(CodeList::Stored),
        (0x07, _) => codes(CodeList::Pending),
        (0x0A, _) => codes(CodeList::Permanent),
        (0x06, _) => Answer::MonitorResults(monitor_results::records(request, response)?.collect()),
        (0x09, [0x02, bytes @ ..]) => match vehicle_identification_number(bytes) {
            Some(number) => Answer::VehicleIdentificationNumber(number),
            None => Answer::Unknown(response.to_vec()),
        },
        _ => Answer::Unknown(response.to_vec()),
    })
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
            codes: vec![TroubleCode(0x0301)],
        };
        assert_eq!(decode(&[7], &[0x47, 1, 0x03, 0x01]), Ok(codes));
        let refused = Answer::Negative {
            service: 0x0A,
            code: 0x11,
        };
        assert_eq!(decode(&[0x0A], &[0x7F, 0x0A, 0x11]), Ok(refused));
        assert_eq!(
            decode(&[9, 4], &[0x49, 4, 1]),
            Ok(Answer::Unknown(vec![0x49, 4, 1]))
        );
    }

    #[test]
    fn an_answer_to_something_else_is_refused() {
        let error = decode(&[1, 0x0C], &[0x49, 2]).unwrap_err();
        assert_eq!(error.to_string(), "at byte 0: expected 41, found byte 49");
        assert!(decode(&[], &[0x41]).is_err());
        assert!(decode(&[1, 0x0C], &[]).is_err());
    }
}
