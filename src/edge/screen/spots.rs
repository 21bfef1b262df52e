//! Where on the screen something is that can be pointed at. Drawing notes it, and a click is
//! looked up in it.

use std::cell::RefCell;

use ratatui::layout::{Position, Rect};

use super::key::Meaning;

/// Something that can be pointed at.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Spot {
    Kiln(String),
    /// A line of the list that is open: the place among those that its filter leaves.
    Line(usize),
    /// The keys of a view: back to where somebody came from.
    Back,
    /// An action, where its key is shown.
    Action(Meaning),
    /// A field of the form that is open, and a choice in it.
    Field(usize),
    Choice(usize, usize),
}

/// What the last frame shows, and where.
#[derive(Debug, Clone, Default)]
pub struct Spots(RefCell<Vec<(Rect, Spot)>>);

impl Spots {
    pub fn clear(&self) {
        self.0.borrow_mut().clear();
    }

    pub fn add(&self, area: Rect, spot: Spot) {
        self.0.borrow_mut().push((area, spot));
    }

    /// What is at this place; what was drawn last lies on top.
    pub fn at(&self, column: u16, row: u16) -> Option<Spot> {
        let position = Position::new(column, row);
        let spots = self.0.borrow();
        spots.iter().rev().find(|(area, _)| area.contains(position)).map(|(_, spot)| spot.clone())
    }
}
