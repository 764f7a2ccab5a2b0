//! What must hold whatever the bytes are: nothing panics, round trips are whole, and what is read
//! out of an answer was in it.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use pintle_protocol::{
    Item, Pid,
    dtc::TroubleCode,
    monitor::{self, scaling},
    pid::table,
    service::{Answer, answer, current_data, monitor_results, negative},
};
use proptest::{collection::vec, prelude::*, sample::select};

fn bytes(longest: usize) -> impl Strategy<Value = Vec<u8>> {
    vec(any::<u8>(), 0..longest)
}

/// Requests and answers that begin as they should, so that the tests reach the decoders.
fn exchange() -> impl Strategy<Value = (Vec<u8>, Vec<u8>)> {
    let service = select(vec![1_u8, 2, 3, 4, 6, 7, 9, 0x0A, 0x14, 0x19, 0x22]);
    (service, bytes(6), bytes(40)).prop_map(|(service, asked, told)| {
        let request = [&[service], &asked[..]].concat();
        let echo = asked.first().copied();
        let response: Vec<u8> = [service + 0x40]
            .into_iter()
            .chain(echo)
            .chain(told)
            .collect();
        (request, response)
    })
}

/// Requests and answers of services 19 and 22, with their identifiers and subfunctions repeated.
fn newer_exchange() -> impl Strategy<Value = (Vec<u8>, Vec<u8>)> {
    let heads: [&[u8]; 9] = [
        &[0x22, 0xF4, 0x06],
        &[0x22, 0xF4, 0x06, 0xF4, 0x07, 0xF4, 0x0C],
        &[0x22, 0xF6, 0xA2],
        &[0x22, 0xF6, 0xA0, 0xF6, 0xC0],
        &[0x22, 0xF8, 0x04],
        &[0x19, 0x42, 0x33, 0x08, 0x1E],
        &[0x19, 0x55, 0x33],
        &[0x19, 0x02, 0x08],
        &[0x19, 0x04, 0x03, 0x03, 0x00, 0xFF],
    ];
    let likely = select(vec![
        0xF4_u8, 0xF6, 0x06, 0x07, 0x0C, 0x04, 0x33, 0x01, 0x00,
    ]);
    let told = vec(prop_oneof![likely, any::<u8>()], 0..60);
    (select(heads.to_vec()), 1_usize..6, told).prop_map(|(request, kept, told)| {
        let kept = request.get(1..kept.min(request.len())).unwrap();
        let response = [&[request[0] + 0x40], kept, &told].concat();
        (request.to_vec(), response)
    })
}

/// One to six different parameters of fixed length, with data for some of them.
fn fixed_lengths() -> impl Strategy<Value = Vec<(u8, Option<Vec<u8>>)>> {
    let fixed: Vec<(u8, usize)> = table::rows()
        .filter(|row| row.lengths.len() == 1 && !row.quantities.is_empty())
        .map(|row| (row.pid.0, usize::from(row.lengths[0])))
        .collect();
    let asked = proptest::sample::subsequence(fixed, 1..=6);
    asked.prop_flat_map(|asked| {
        let one = |(pid, length)| {
            let data = proptest::option::of(vec(any::<u8>(), length));
            data.prop_map(move |data| (pid, data))
        };
        asked.into_iter().map(one).collect::<Vec<_>>()
    })
}

proptest! {
    #[test]
    fn no_bytes_make_a_decoder_panic(request in bytes(9), response in bytes(60)) {
        let _ = answer::decode(&request, &response);
        let _ = current_data::for_each_number(&request, &response, |_, _| {});
        let _ = monitor_results::for_each_number(&request, &response, |_, _| {});
    }

    #[test]
    fn no_likely_bytes_make_a_decoder_panic((request, response) in exchange()) {
        let decoded = answer::decode(&request, &response);
        if let Ok(Answer::Unknown(raw)) = &decoded {
            prop_assert_eq!(raw, &response);
        }
        if let Err(error) = decoded {
            prop_assert!(error.offset <= response.len().max(request.len()));
        }
        let _ = current_data::for_each_number(&request, &response, |_, _| {});
        let _ = monitor_results::for_each_number(&request, &response, |_, _| {});
    }

    #[test]
    fn no_likely_bytes_of_newer_cars_make_a_decoder_panic(
        (request, response) in newer_exchange(),
    ) {
        match answer::decode(&request, &response) {
            Ok(Answer::Unknown(raw)) => prop_assert_eq!(raw, response.clone()),
            Ok(_) => {}
            Err(error) => prop_assert!(error.offset <= response.len().max(request.len())),
        }
        let _ = current_data::for_each_number(&request, &response, |_, _| {});
        let _ = monitor_results::for_each_number(&request, &response, |_, _| {});
    }

    /// Parameters with equal data give equal numbers, whichever services bring them.
    #[test]
    fn both_families_of_services_say_the_same(parameters in fixed_lengths()) {
        let mut older = (vec![0x01], vec![0x41]);
        let mut newer = (vec![0x22], vec![0x62]);
        for (pid, data) in &parameters {
            older.0.push(*pid);
            newer.0.extend([0xF4, *pid]);
            if let Some(data) = data {
                older.1.push(*pid);
                older.1.extend(data);
                newer.1.extend([0xF4, *pid]);
                newer.1.extend(data);
            }
        }
        let numbers = |(request, response): &(Vec<u8>, Vec<u8>)| {
            let mut found = Vec::new();
            current_data::for_each_number(request, response, |item, value| {
                found.push((item, value));
            }).map(|()| found)
        };
        match numbers(&older) {
            Ok(found) => prop_assert_eq!(numbers(&newer), Ok(found)),
            Err(_) => prop_assert!(parameters.iter().all(|(_, data)| data.is_none())),
        }
    }

    /// A list by status is read back as it was, and so are snapshots of fixed length.
    #[test]
    fn codes_with_status_and_snapshots_are_read_back(
        codes in vec((1_u16.., any::<u8>()), 0..40),
        parameters in fixed_lengths(),
    ) {
        let mut response = vec![0x59, 0x42, 0x33, 0xFF, 0x1E, 0x04];
        for (code, failure_type) in &codes {
            let [high, low] = code.to_be_bytes();
            response.extend([0x02, high, low, *failure_type, 0x2F]);
        }
        let Ok(Answer::Codes { codes: found, .. }) =
            answer::decode(&[0x19, 0x42, 0x33, 0x08, 0x1E], &response)
        else {
            return Err(TestCaseError::fail("no codes"));
        };
        let found: Vec<(u16, u8)> = found
            .iter()
            .map(|code| (code.code.0, code.failure_type.unwrap()))
            .collect();
        prop_assert_eq!(found, codes);

        let told: Vec<(Pid, Vec<u8>)> = parameters
            .into_iter()
            .filter_map(|(pid, data)| Some((Pid(pid), data?)))
            .collect();
        prop_assume!(!told.is_empty());
        let mut response = vec![0x59, 0x04, 0x03, 0x03, 0x00, 0x2F, 0xF0];
        response.push(u8::try_from(told.len()).unwrap());
        for (pid, data) in &told {
            response.extend([0xF4, pid.0]);
            response.extend(data);
        }
        match answer::decode(&[0x19, 0x04, 0x03, 0x03, 0x00, 0xFF], &response) {
            Ok(Answer::Snapshots { snapshots, .. }) => {
                prop_assert_eq!(&snapshots[0].values, &told);
            }
            other => prop_assert!(false, "{:?}", other),
        }
    }

    /// Either the whole answer is taken, every byte in its place, or nothing is.
    #[test]
    fn parameters_taken_from_an_answer_make_up_the_answer(
        asked in vec(select(vec![4_u8, 5, 6, 7, 8, 9, 0x0B, 0x0C]), 1..7),
        told in vec(select(vec![4_u8, 5, 6, 7, 8, 9, 0x0B, 0x0C, 0x80]), 0..16),
    ) {
        let request = [&[1], &asked[..]].concat();
        let response = [&[0x41], &told[..]].concat();
        let mut taken = vec![0x41];
        let outcome = current_data::for_each_parameter(&request, &response, |pid, data| {
            taken.push(pid.0);
            taken.extend(data);
        });
        match outcome {
            Ok(()) => prop_assert_eq!(taken, response),
            Err(_) => prop_assert_eq!(taken, [0x41]),
        }
    }

    /// Where lengths are fixed, an answer with some of the parameters asked for is read back whole.
    #[test]
    fn what_was_put_together_comes_apart_again(parameters in fixed_lengths()) {
        let request: Vec<u8> = [1].into_iter().chain(parameters.iter().map(|one| one.0)).collect();
        let told: Vec<(u8, Vec<u8>)> = parameters
            .into_iter()
            .filter_map(|(pid, data)| Some((pid, data?)))
            .collect();
        prop_assume!(!told.is_empty());
        let mut response = vec![0x41];
        for (pid, data) in &told {
            response.push(*pid);
            response.extend(data);
        }
        let mut found = Vec::new();
        current_data::for_each_parameter(&request, &response, |pid, data| {
            found.push((pid.0, data.to_vec()));
        }).unwrap();
        prop_assert_eq!(found, told);
    }

    #[test]
    fn values_stay_inside_their_range(pid in any::<u8>(), data in bytes(42)) {
        for quantity in table::row(Pid(pid)).map_or(&[][..], |row| row.quantities) {
            let Some(value) = quantity.value(&data) else { continue };
            prop_assert!(value.is_finite());
            match quantity.range() {
                Some((low, high)) => {
                    let slack = 1e-9 * (high - low);
                    prop_assert!(low - slack <= value && value <= high + slack);
                }
                None => prop_assert!(!quantity.text(value).unwrap().is_empty()),
            }
        }
    }

    /// A counted list of codes is read back as it was.
    #[test]
    fn code_lists_are_read_back(numbers in vec(1_u16.., 0..100)) {
        let count = u8::try_from(numbers.len()).unwrap();
        let pairs = numbers.iter().flat_map(|number| number.to_be_bytes());
        let response: Vec<u8> = [0x47, count].into_iter().chain(pairs).collect();
        match answer::decode(&[0x07], &response) {
            Ok(Answer::Codes { codes, .. }) => {
                let found: Vec<u16> = codes.iter().map(|code| code.code.0).collect();
                prop_assert_eq!(found, numbers);
            }
            other => prop_assert!(false, "{:?}", other),
        }
    }

    #[test]
    fn no_text_makes_a_parser_panic(text in "\\PC{0,12}") {
        let _ = text.parse::<TroubleCode>();
        let _ = text.parse::<Item>();
    }
}

#[test]
fn every_identifier_can_be_looked_up() {
    for one in 0..=u8::MAX {
        let _ = (negative::meaning(one), scaling::of(one));
        for other in 0..=u8::MAX {
            let name = monitor::name(one, other);
            assert!(name.is_none_or(|name| !name.is_empty()));
        }
    }
}
