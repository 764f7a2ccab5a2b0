//! What the standard's trouble codes mean, in our own short words.

mod fuel_and_air;
mod other;

use super::TroubleCode;

/// All parts, each in order, one behind the other.
const PARTS: [&[(u16, &str)]; 2] = [fuel_and_air::ROWS, other::ROWS];

impl TroubleCode {
    /// What the code means; `None` for one that is not listed, and for the maker's own codes.
    pub fn meaning(self) -> Option<&'static str> {
        PARTS.iter().find_map(|part| {
            let at = part.binary_search_by_key(&self.0, |(code, _)| *code);
            part.get(at.ok()?).map(|(_, words)| *words)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_parts_are_sorted_and_name_no_code_twice() {
        let codes: Vec<u16> = PARTS.concat().iter().map(|(code, _)| *code).collect();
        assert!(codes.is_sorted_by(|a, b| a < b));
    }

    /// Codes whose meaning the trade knows by heart (SAE J2012, from memory).
    #[test]
    fn well_known_codes_say_what_they_mean() {
        for (code, words) in [
            ("P0101", "air flow meter performance"),
            ("P0128", "coolant stays below thermostat temperature"),
            ("P0171", "mixture too lean bank 1"),
            ("P0175", "mixture too rich bank 2"),
            ("P0201", "injector circuit open cylinder 1"),
            ("P0212", "injector circuit open cylinder 12"),
            ("P0261", "injector circuit low cylinder 1"),
            ("P0265", "injector circuit high cylinder 2"),
            ("P0296", "power balance cylinder 12"),
            ("P0300", "misfires in several cylinders"),
            ("P0312", "misfires cylinder 12"),
            ("P0335", "crank position sensor A circuit"),
            ("P0420", "catalyst efficiency low bank 1"),
            ("P0442", "small evaporative leak"),
            ("P0496", "purge flow when none is commanded"),
            ("P219A", "air-fuel imbalance between cylinders bank 1"),
            ("P21A3", "air-fuel imbalance cylinder 8"),
            ("U0100", "no communication with the engine controller"),
        ] {
            let code: TroubleCode = code.parse().unwrap();
            assert_eq!(code.meaning(), Some(words), "{code}");
        }
    }

    #[test]
    fn the_makers_own_codes_have_no_meaning_here() {
        let makers = ["P1000", "P1171", "P3000", "C1234", "U1143"];
        assert!(makers.iter().all(|code| {
            let code: TroubleCode = code.parse().unwrap();
            code.meaning().is_none()
        }));
    }
}
