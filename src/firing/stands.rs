//! What stands in a kiln, as it is told to somebody who did not know of it.

use std::fmt;

use crate::units::Span;

/// The last packing, lighting or strike of one of them in a kiln, told to somebody who did not
/// know of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stands {
    pub kiln: String,
    pub deed: Deed,
    pub load_type: String,
    pub pieces: Option<u32>,
    /// Who wrote it down, or else who packed it; empty when nobody said.
    pub by: String,
    pub ago: Span,
}

/// What was done last to a packing or a lighting.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Deed {
    Packed,
    Lit,
    PackingStruck,
    LightingStruck,
}

impl fmt::Display for Stands {
    /// `North was packed with gold, 40 pieces, by Ida 12 min ago`
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Stands { kiln, load_type, .. } = self;
        match self.deed {
            Deed::Packed => write!(f, "{kiln} was packed with {load_type}")?,
            Deed::Lit => write!(f, "{kiln} was lit with {load_type}")?,
            Deed::PackingStruck => write!(f, "the packing of {kiln} with {load_type} was struck")?,
            Deed::LightingStruck => {
                write!(f, "the lighting of {kiln} with {load_type} was struck")?;
            }
        }
        if let (Deed::Packed, Some(pieces)) = (self.deed, self.pieces) {
            write!(f, ", {pieces} pieces,")?;
        }
        if !self.by.is_empty() {
            write!(f, " by {}", self.by)?;
        }
        match self.ago {
            ago if ago < Span::minutes(1) => f.write_str(" just now"),
            ago => write!(f, " {ago} ago"),
        }
    }
}
