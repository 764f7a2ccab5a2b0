//! Readings of one injector that contradict each other, though each is possible by itself: to be repeated before money
//! is spent on them.

use super::{
    coil::Electrical,
    readings::{InjectorReadings, Steps},
};

/// Signs that an injector works although its winding should prevent it, as in "it clicks".
fn works(read: &InjectorReadings, steps: &Steps) -> Vec<&'static str> {
    let above = |reading: Option<f64>, step: f64| reading.is_some_and(|value| value > step);
    let signs = [
        (read.click == Some(true), "it clicks"),
        (above(read.volume_ml, steps.glass_ml), "it delivers fuel"),
        (
            above(read.drop_kpa, steps.gauge_kpa),
            "the pressure drops with its pulses",
        ),
    ];
    let seen = signs.into_iter().filter(|(seen, _)| *seen);
    seen.map(|(_, words)| words).collect()
}

/// Whether a winding that reads open or shorted belongs to an injector that works.
pub fn works_though_dead(read: &InjectorReadings, electrical: Electrical, steps: &Steps) -> bool {
    electrical.is_dead() && !works(read, steps).is_empty()
}

/// The contradiction at one injector, in a sentence; `None` where its readings agree.
pub fn words(read: &InjectorReadings, electrical: Electrical, steps: &Steps) -> Option<String> {
    let cylinder = read.cylinder;
    let winding = match electrical {
        Electrical::Open => "open",
        Electrical::Short => "shorted",
        _ => return None,
    };
    if works_though_dead(read, electrical, steps) {
        return Some(format!(
            "Cylinder {cylinder}: the winding reads {winding}, yet {}. Both are hardly possible: touch the meter's \
             leads together, subtract what they read, and measure again at the injector's own pins before you buy a \
             new one.",
            works(read, steps).join(" and ")
        ));
    }
    let above_zero = |reading: Option<f64>| reading.is_some_and(|value| value > 0.0);
    let (seen, instrument) = match electrical {
        Electrical::Open if above_zero(read.drop_kpa) => ("the pressure dropped", "gauge"),
        Electrical::Open if above_zero(read.volume_ml) => ("it delivered fuel", "glass"),
        _ => return None,
    };
    Some(format!(
        "Cylinder {cylinder}: the winding is open, yet {seen}, by no more than one step of the {instrument}. Repeat \
         that reading, and measure the winding again at the injector's own pins."
    ))
}

#[cfg(test)]
mod tests {
    use super::super::{Readings, findings};
    use crate::vehicle::Vehicle;

    /// The notes on a form with these entries at cylinder 2, or why it is refused.
    fn notes(entries: &str) -> Result<String, String> {
        let form = format!("gauge_step_kpa = 2\n[[injector]]\ncylinder = 2\n{entries}");
        let vehicle = Vehicle::default();
        let readings = Readings::from_toml(&form, &vehicle).map_err(|error| error.to_string())?;
        Ok(findings(&readings, &vehicle).notes.join("\n"))
    }

    #[test]
    fn an_open_winding_beside_one_step_of_an_instrument_is_a_doubt_and_beside_more_a_mistake() {
        for entries in [
            "ohms = \"open\"\ndrop_kpa = 2\n",
            "ohms = \"open\"\nstart_kpa = 380\nend_kpa = 378\n",
            "ohms = \"open\"\nvolume_ml = 1\n",
        ] {
            let said = notes(entries).unwrap();
            assert!(said.contains("Electrically dead: cylinder 2"), "{said}");
            assert!(said.contains("no more than one step"), "{said}");
        }
        for entries in ["drop_kpa = 40", "start_kpa = 380\nend_kpa = 340"] {
            let refused = notes(&format!("ohms = \"open\"\n{entries}\n")).unwrap_err();
            assert!(
                refused.contains("cannot make the pressure drop"),
                "{refused}"
            );
        }
        let plain = notes("ohms = \"open\"\ndrop_kpa = 0\n").unwrap();
        assert!(!plain.contains("yet"), "{plain}");
    }

    #[test]
    fn a_dead_winding_of_an_injector_that_works_is_doubted_and_nobody_is_sent_to_buy() {
        for (sign, words) in [
            ("click = true", "yet it clicks."),
            ("volume_ml = 50", "yet it delivers fuel."),
            (
                "click = true\ndrop_kpa = 60",
                "yet it clicks and the pressure drops",
            ),
        ] {
            for (ohms, reads) in [("0.2", "reads shorted"), ("20e6", "reads open")] {
                let said = notes(&format!("ohms = {ohms}\n{sign}\n")).unwrap();
                assert!(said.contains(reads) && said.contains(words), "{said}");
                assert!(!said.contains("Electrically dead"), "{said}");
            }
        }
        for plain in ["ohms = 0.2\n", "ohms = 0.2\nclick = false\n"] {
            let said = notes(plain).unwrap();
            assert!(
                said.contains("Electrically dead") && !said.contains("yet"),
                "{said}"
            );
        }
    }
}
