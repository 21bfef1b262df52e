//! Which cone a history is worth: "017 and 0.4 of the way to 016".

use std::fmt;

use super::name::Cone;

/// The cone equivalent of a history within one family.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Equivalent {
    /// Not even the coolest cone of the family is down.
    Below(Cone),
    /// `down` is the hottest cone that is down, `fraction` of the way (0 to below 1) to `next`.
    Between { down: Cone, next: Cone, fraction: f64 },
    /// The hottest cone of the family is down.
    Above(Cone),
}

impl Equivalent {
    /// From the heat work of every cone of a family, coolest first. The last cone that is down
    /// and the next one are interpolated on ln J. `None` for an empty list.
    pub fn from_heat_work(heat_work: &[(Cone, f64)]) -> Option<Equivalent> {
        let Some(last_down) = heat_work.iter().rposition(|(_, j)| *j >= 1.0) else {
            return heat_work.first().map(|(cone, _)| Equivalent::Below(*cone));
        };
        let (down, j_down) = heat_work[last_down];
        let Some(&(next, j_next)) = heat_work.get(last_down + 1) else {
            return Some(Equivalent::Above(down));
        };
        let fraction = if j_next > 0.0 { j_down.ln() / (j_down.ln() - j_next.ln()) } else { 0.0 };
        Some(Equivalent::Between { down, next, fraction })
    }

    /// The place on the scale of [`Cone::position`]; for a history outside the family's cones,
    /// the position of the cone at its edge.
    pub fn position(self) -> f64 {
        match self {
            Equivalent::Below(cone) | Equivalent::Above(cone) => cone.position(),
            Equivalent::Between { down, next, fraction } => {
                down.position() + fraction * (next.position() - down.position())
            }
        }
    }

    /// How many cones over (positive) or under (negative) the target this history came out.
    pub fn cones_over(self, target: Cone) -> f64 {
        self.position() - target.position()
    }
}

impl fmt::Display for Equivalent {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Equivalent::Below(cone) => write!(f, "below {cone}"),
            Equivalent::Above(cone) => write!(f, "{cone} or more"),
            Equivalent::Between { down, next, fraction } => {
                let tenths = (fraction * 10.0).floor() / 10.0;
                if tenths == 0.0 {
                    write!(f, "{down}")
                } else {
                    write!(f, "{down} and {tenths:.1} of the way to {next}")
                }
            }
        }
    }
}
