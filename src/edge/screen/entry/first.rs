//! The page of a new shop: how it shows things, its first kiln, and what is fired in it.

use super::{Problem, fields_of, settings};
use crate::edge::draft::{Draft, Known};
use crate::edge::house_file::House;
use crate::edge::screen::form::Form;
use crate::edge::shop::store::{About, Entry, Settings};
use crate::firing::{Kind, What};
use crate::scene::Scene;
use crate::words::{Dial, Title};

/// The page, with what holds now.
pub fn first(scene: &Scene, dial: &Dial<'_>) -> Form {
    let mut form = settings::house(&House::default(), dial);
    form.title = Title::First;
    form.fields.truncate(2);
    let asked = [
        (Kind::Kiln, "name"),
        (Kind::Kiln, "fuel"),
        (Kind::Lit, "load_type"),
        (Kind::LoadType, "usual_length_min"),
    ];
    form.fields.extend(asked.into_iter().flat_map(|(kind, key)| {
        fields_of(kind.field(key), &Draft::new(kind, ""), &scene.load_types)
    }));
    form
}

impl Form {
    /// What a new shop keeps if this is confirmed, and the entries that describe it. A kiln it has
    /// by now is not described twice.
    ///
    /// # Errors
    /// A [`Problem`] with its sentence.
    pub fn first_shop(
        &self,
        settings: Option<&Settings>,
        scene: &Scene,
    ) -> Result<(Option<Settings>, Vec<Entry>), Problem> {
        let entry = |what| Entry::new(About::Shop, scene.now, what);
        let made = |draft: &Draft| draft.what(&Known::default()).map(entry);
        let mut entries = Vec::new();
        let mut kiln = Draft::new(Kind::Kiln, "");
        kiln.say("name", self.said("name"));
        kiln.say("fuel", self.said("fuel"));
        let kiln = made(&kiln)?;
        if let What::KilnSet(described) = &kiln.what
            && scene.kiln(&described.name).is_none()
        {
            entries.push(kiln);
        }
        let usual = self.said("usual_length_min");
        if !usual.is_empty() {
            let load = self.load_type(&scene.load_types);
            let load = load.ok_or(Problem::Wrong(Kind::Lit.field("load_type").missing.into()))?;
            let mut draft = Draft::of(&What::LoadTypeSet(load.clone()));
            draft.say("usual_length_min", usual);
            entries.push(made(&draft)?);
        }
        let becomes = settings.map(|was| -> Result<Settings, Problem> {
            let kept = was.house.clone().map_err(Problem::Wrong)?;
            let said = self.house()?;
            let house = House { scale: said.scale, clock: said.clock, ..kept };
            Ok(Settings { house: Ok(house), ..was.clone() })
        });
        Ok((becomes.transpose()?, entries))
    }
}
