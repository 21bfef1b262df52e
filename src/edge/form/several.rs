//! Parts of an event that are stored under several keys.

use serde_json::{Map, Value};

use super::{Stored, example, made, word};
use crate::edge::fields::{FieldError, Fields};
use crate::firing::Kind;
use crate::firing::event::{ConePack, Counted, Verdict};
use crate::review::suggestion::Change;

impl Stored for ConePack {
    fn take(from: &mut Fields, kind: Kind, key: &'static str) -> Result<ConePack, FieldError> {
        let pack: Option<ConePack> = Stored::take(from, kind, key)?;
        pack.ok_or_else(|| from.missing("cone", "\"018\""))
    }

    fn put(&self, key: &str, into: &mut Map<String, Value>) {
        into.insert(key.into(), self.target.name().into());
        self.guide.put("guide", into);
        self.guard.put("guard", into);
        self.family.put("cone_family", into);
    }
}

impl Stored for Option<ConePack> {
    fn take(from: &mut Fields, _: Kind, _: &'static str) -> Result<Self, FieldError> {
        let target = from.optional_cone("cone")?;
        let guide = from.optional_cone("guide")?;
        let guard = from.optional_cone("guard")?;
        let Some(target) = target else {
            from.optional_family("cone_family")?;
            return Ok(None);
        };
        let family = from.family("cone_family")?;
        for (key, cone) in [("cone", Some(target)), ("guide", guide), ("guard", guard)] {
            cone.map_or(Ok(()), |cone| made(key, cone, family))?;
        }
        if let Some(guide) = guide.filter(|guide| *guide >= target) {
            let reason =
                format!("the guide cone {guide} has to be cooler than the target {target}");
            return Err(FieldError::Refused { key: "guide", reason });
        }
        if let Some(guard) = guard.filter(|guard| *guard <= target) {
            let reason =
                format!("the guard cone {guard} has to be hotter than the target {target}");
            return Err(FieldError::Refused { key: "guard", reason });
        }
        Ok(Some(ConePack { family, target, guide, guard }))
    }

    fn put(&self, key: &str, into: &mut Map<String, Value>) {
        if let Some(pack) = self {
            pack.put(key, into);
        }
    }
}

/// Where it is left out it follows from the pieces counted.
impl Stored for Verdict {
    fn take(from: &mut Fields, kind: Kind, key: &'static str) -> Result<Verdict, FieldError> {
        let field = kind.field(key);
        if let Some(said) = word(from, field)? {
            return Ok(said);
        }
        let mut rest = from.clone();
        let mut count = |key| Stored::take(&mut rest, kind, key);
        let counted = Counted {
            good: count("good")?,
            under: count("under")?,
            over: count("over")?,
            broken: count("broken")?,
            not_fired: count("not_fired")?,
        };
        counted.verdict().ok_or_else(|| from.missing(field.key, &example(field)))
    }

    fn put(&self, key: &str, into: &mut Map<String, Value>) {
        into.insert(key.into(), self.name().into());
    }
}

/// A probe correction names a kiln, a tolerance a load type.
impl Stored for Change {
    fn take(from: &mut Fields, kind: Kind, key: &'static str) -> Result<Change, FieldError> {
        if let Some(kiln) = Stored::take(from, kind, key)? {
            return Ok(Change::ProbeCorrection { kiln, add_c: Stored::take(from, kind, "add_c")? });
        }
        let under_cones = Stored::take(from, kind, "under_cones")?;
        let over_cones = Stored::take(from, kind, "over_cones")?;
        let load_type = Stored::take(from, kind, "load_type")?;
        Ok(Change::Tolerance { load_type, under_cones, over_cones })
    }

    fn put(&self, key: &str, into: &mut Map<String, Value>) {
        match self {
            Change::ProbeCorrection { kiln, add_c } => {
                kiln.put(key, into);
                add_c.put("add_c", into);
            }
            Change::Tolerance { load_type, under_cones, over_cones } => {
                load_type.put("load_type", into);
                under_cones.put("under_cones", into);
                over_cones.put("over_cones", into);
            }
        }
    }
}
