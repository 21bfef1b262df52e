//! What is fired, and how fast people mean to fire it.

use super::chance::Chance;
use super::cones::chart_ends;

/// Load of a firing, which tells the cones of the pack and the usual length.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Load {
    Lustre,
    Gold,
    Decal,
    LowGlaze,
    EarthenwareGlaze,
    Bisque,
    MidGlaze,
    Stoneware,
}

impl Load {
    pub(crate) const ALL: [Self; 8] = [
        Self::Lustre,
        Self::Gold,
        Self::Decal,
        Self::LowGlaze,
        Self::EarthenwareGlaze,
        Self::Bisque,
        Self::MidGlaze,
        Self::Stoneware,
    ];

    /// Guide, target and guard.
    pub(crate) fn pack(self) -> [&'static str; 3] {
        match self {
            Self::Lustre => ["021", "020", "019"],
            Self::Gold => ["019", "018", "017"],
            Self::Decal => ["018", "017", "016"],
            Self::LowGlaze => ["07", "06", "05"],
            Self::EarthenwareGlaze => ["06", "05", "04"],
            Self::Bisque => ["05", "04", "03"],
            Self::MidGlaze => ["5", "6", "7"],
            Self::Stoneware => ["9", "10", "11"],
        }
    }

    /// Hours from lighting to the drop that people mean to take. Common practice, no source.
    fn hours(self) -> (f64, f64) {
        match self {
            Self::Lustre | Self::Gold => (2.0, 6.0),
            Self::Decal => (2.5, 6.0),
            Self::LowGlaze | Self::EarthenwareGlaze => (5.0, 9.0),
            Self::Bisque => (8.0, 12.0),
            Self::MidGlaze => (7.0, 11.0),
            Self::Stoneware => (9.0, 13.0),
        }
    }

    /// Heat that raw clay takes up while its bound water leaves, kJ a kg. Of kaolin about a
    /// thousand (from memory), and a body is less than half kaolin.
    pub(crate) fn water_kj_per_kg(self) -> f64 {
        if self == Self::Bisque { 350.0 } else { 0.0 }
    }

    /// Published end temperature of the target at 60 C/h, C.
    pub(crate) fn end_c(self) -> f64 {
        chart_ends(self.pack()[1]).iter().find(|end| end.0 == 60.0).unwrap().1
    }
}

/// Planned climbs: up to a temperature, C, at a rate, C/h. The last has no end.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Plan {
    pub(crate) pieces: [(f64, f64); 3],
}

impl Plan {
    /// Plan a kiln follows with a load on every usual day.
    pub(crate) fn usual(load: Load, kiln_seed: u64) -> Self {
        Self::draw(load, &mut Chance::new(kiln_seed).branch(load as u64))
    }

    /// A slow start, a quick middle, and a last stretch slow enough to judge the cones by.
    fn draw(load: Load, chance: &mut Chance) -> Self {
        let (shortest, longest) = load.hours();
        let hours = chance.between(shortest, longest);
        let start_c = chance.between(200.0, 320.0);
        let last_c = load.end_c() - chance.between(60.0, 140.0);
        let start_h = hours * chance.between(0.25, 0.4);
        let last_span = load.end_c() - last_c;
        let last = chance.between(30.0, 130.0).max(last_span / (0.35 * hours));
        let middle_h = hours - start_h - last_span / last;
        let middle = ((last_c - start_c) / middle_h).max(last);
        Self { pieces: [(start_c, start_c / start_h), (last_c, middle), (f64::INFINITY, last)] }
    }

    pub(crate) fn at_pace(mut self, factor: f64) -> Self {
        for piece in &mut self.pieces {
            piece.1 *= factor;
        }
        self
    }

    /// Climb meant at a temperature, C/h.
    pub(crate) fn climb_at(&self, c: f64) -> f64 {
        self.pieces.iter().find(|piece| c < piece.0).unwrap().1
    }

    /// Hours from cold to a temperature when the plan is kept.
    pub(crate) fn hours_to(&self, c: f64) -> f64 {
        let mut from_c = 20.0;
        let mut hours = 0.0;
        for &(until_c, climb) in &self.pieces {
            hours += (c.min(until_c) - from_c).max(0.0) / climb;
            from_c = until_c;
        }
        hours
    }

    /// Minutes between two walks of somebody who likes so many, fewer in a short firing.
    pub(crate) fn walks_every_min(&self, liked_min: f64) -> f64 {
        liked_min.min(10.0 * self.hours_to(self.pieces[1].0))
    }

    /// Whether people come by twice as often: the last stretch is near or has begun.
    pub(crate) fn near_end(&self, c: f64) -> bool {
        c > self.pieces[1].0 - 100.0
    }
}
