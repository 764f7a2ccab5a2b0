//! Charts as SVG inside a page: one file a chart. Each has an axis with its unit, a legend, a title and a text alternative
//! that says the same in words; none rests on colour alone.

mod axis;
pub mod causes;
pub mod cells;
pub mod changes;
pub mod corrections;
mod figure;
pub mod flow;
pub mod misfires;
mod rows;
#[cfg(test)]
mod tests;
pub mod timeline;

use maud::Markup;

/// A finished chart; `None` where there is nothing to show.
pub type Chart = Option<Markup>;
