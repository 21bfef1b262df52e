//! Pictures as SVG, and the firing card as a page of HTML.
//!
//! Reading order: [`sheet`] (a picture that knows where text stands already), [`axes`] (round ticks), then what
//! is drawn: [`curve`] of one firing and the [`card`] around it ([`of_firing`] gathers what is on it), the [`day_sheet`], [`chart`].
//! No text is ever drawn over another: every label looks for a free place first.

pub mod axes;
pub mod card;
pub mod chart;
pub mod curve;
pub mod day_sheet;
pub mod of_firing;
pub mod sheet;
