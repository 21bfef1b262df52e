//! Pictures as SVG and PDF: the firing card and the charts of the review.
//!
//! Reading order: [`fonts`] and [`width`] (how wide a text is drawn), [`sheet`] (a page that knows
//! where text stands already), [`axes`] (round ticks), then what is drawn: [`card`] ([`of_firing`] gathers what is
//! on it), [`chart`]; at
//! last how a page is written down: [`svg`], [`pdf`]. No text is ever drawn over another: every
//! label looks for a free place first.

pub mod axes;
pub mod card;
pub mod chart;
pub mod cones;
pub mod fonts;
pub mod of_firing;
pub mod pdf;
pub mod sheet;
pub mod svg;
pub mod width;
