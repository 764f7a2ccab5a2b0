//! Findings at one injector.

use serde::Serialize;

use super::{coil::Electrical, flow::Flow, leakage::Leakage, power::Power};

/// Findings at one injector.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Injector {
    /// Cylinder, from 1.
    pub cylinder: u8,
    /// Winding resistance corrected to 20 °C, ohms; `None` without a reading, without a temperature, or for an open
    /// winding.
    pub ohms_at_20c: Option<f64>,
    /// Verdict on the winding.
    pub electrical: Electrical,
    /// Whether the injector works in spite of a winding that reads open or shorted: one of the readings is wrong.
    #[serde(skip)]
    pub works_though_dead: bool,
    /// Whether the injector clicks; `None` where not checked.
    pub click: Option<bool>,
    /// Whether the drive pulse arrives; `None` where not checked.
    pub pulse: Option<bool>,
    /// Flow divided by the mean of the set; `None` where not measured.
    pub relative_flow: Option<f64>,
    /// Lowest relative flow that the instrument's step allows.
    pub low: Option<f64>,
    /// Highest relative flow that the instrument's step allows.
    pub high: Option<f64>,
    /// Verdict on the flow.
    pub flow: Flow,
    /// Flow after cleaning divided by the mean of the set after cleaning.
    pub relative_flow_after: Option<f64>,
    /// Verdict on the flow after cleaning.
    pub flow_after: Flow,
    /// Gain in volume by cleaning, percent of the volume before.
    pub gained_pct: Option<f64>,
    /// Verdict on the leakage, after cleaning where it was counted again.
    pub leakage: Leakage,
    /// Drop in idle speed with this injector off, rpm.
    pub rpm_drop: Option<f64>,
    /// Verdict of the power balance on the cylinder.
    pub power: Power,
}

impl Injector {
    /// Whether the injector is dead because of its winding, and no other reading contradicts that.
    pub const fn is_dead(&self) -> bool {
        self.electrical.is_dead() && !self.works_though_dead
    }
}
