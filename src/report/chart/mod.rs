//! Charts as SVG inside a page: one file for each chart. Each has an axis with its unit, a legend, a title and a text
//! alternative; none relies on colour alone.

mod axis;
pub mod causes;
pub mod cells;
pub mod changes;
mod figure;
pub mod flow;
pub mod fuel_trims;
pub mod misfires;
mod rows;
#[cfg(test)]
mod tests;
pub mod timeline;

use maud::Markup;

/// A finished chart; `None` where there is nothing to show.
pub type Chart = Option<Markup>;
