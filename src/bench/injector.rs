//! What was found at one injector.

use serde::Serialize;

use super::{coil::Electrical, flow::Flow, leakage::Leakage, power::Power};

/// What was found at one injector.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Injector {
    /// Cylinder, from 1.
    pub cylinder: u8,
    /// Coil resistance brought to 20 °C, ohms; `None` without a reading, a temperature, or for an open coil.
    pub ohms_at_20c: Option<f64>,
    /// What the coil says.
    pub electrical: Electrical,
    /// Whether it works in spite of a winding that reads open or shorted: one of the readings is wrong.
    #[serde(skip)]
    pub works_though_dead: bool,
    /// Whether it clicks.
    pub click: Option<bool>,
    /// Whether the drive pulse arrives.
    pub pulse: Option<bool>,
    /// Flow over the mean of the set.
    pub relative_flow: Option<f64>,
    /// Lowest value that the instrument allows.
    pub low: Option<f64>,
    /// Highest.
    pub high: Option<f64>,
    /// What the flow says.
    pub flow: Flow,
    /// Flow after cleaning over the mean of the set after cleaning.
    pub relative_flow_after: Option<f64>,
    /// What that says.
    pub flow_after: Flow,
    /// What cleaning has brought, percent of the volume before.
    pub gained_pct: Option<f64>,
    /// What the leakage says, after cleaning where it was counted again.
    pub leakage: Leakage,
    /// Fall of the idle speed without it, rpm.
    pub rpm_drop: Option<f64>,
    /// What the power balance says of its cylinder.
    pub power: Power,
}

impl Injector {
    /// Whether it is dead by its winding, and no other reading contradicts that.
    pub const fn is_dead(&self) -> bool {
        self.electrical.is_dead() && !self.works_though_dead
    }
}
