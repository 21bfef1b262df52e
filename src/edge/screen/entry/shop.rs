//! Forms for the shop itself: its kilns and its load types.

use super::Problem;
use crate::cone::{Cone, Family};
use crate::edge::screen::form::{Field, Form};
use crate::edge::screen::store::About;
use crate::firing::What;
use crate::kiln::same_name;
use crate::kiln::{Fuel, Kiln, LoadType, Miss, typed};
use crate::scene::Scene;
use crate::units::{Celsius, CelsiusPerHour, Span};
use crate::words::{self, Label, Title};

/// Half a cone either way is where a new load type starts: a careful guess.
const CAREFUL_CONES: &str = "0.5";

/// The form that describes a kiln anew, or a new one.
pub fn kiln(known: Option<&Kiln>) -> Form {
    let text = |value: Option<String>| value.unwrap_or_default();
    let celsius = known.and_then(|kiln| kiln.ceiling).map(|t| format!("{}C", t.0));
    let climb = known.and_then(|kiln| kiln.fastest_climb).map(|rate| format!("{}C/h", rate.0));
    let litres = known.and_then(|kiln| kiln.litres).map(|litres| litres.to_string());
    let chosen = Fuel::ALL.iter().position(|fuel| known.is_some_and(|kiln| kiln.fuel == *fuel));
    let mut fields = vec![
        Field::named(Label::Fuel, Fuel::ALL.map(|fuel| fuel.name().to_owned()).into_iter(), chosen),
        Field::filled(Label::Litres, text(litres)),
        Field::filled(Label::Ceiling, text(celsius)),
        Field::filled(Label::FastestClimb, text(climb)),
    ];
    if known.is_none() {
        fields.insert(0, Field::text(Label::Name));
    }
    Form::new(Title::Kiln, known.map_or("", |kiln| &kiln.name), About::Shop, fields)
}

/// The form that describes a load type anew, or a new one.
pub fn load_type(known: Option<&LoadType>) -> Form {
    let misses = || Miss::ALL.map(|miss| miss.to_string()).into_iter();
    let miss = |of: fn(&LoadType) -> Miss, careful: Miss| {
        let miss = known.map_or(careful, of);
        Miss::ALL.iter().position(|one| *one == miss)
    };
    let cones = |of: fn(&LoadType) -> f64| {
        known.map_or(CAREFUL_CONES.to_owned(), |load| of(load).to_string())
    };
    let family = known.map_or(Family::SelfSupporting, |load| load.family);
    let families = Family::ALL.map(|family| family.name().to_owned()).into_iter();
    let length = known.and_then(|load| load.usual_length).map(|length| length.to_string());
    let mut fields = vec![
        Field::filled(Label::Cone, known.map_or("", |load| load.target.name()).to_owned()),
        Field::named(Label::Family, families, Family::ALL.iter().position(|one| *one == family)),
        Field::filled(Label::Under, cones(|load| load.under_cones)),
        Field::filled(Label::Over, cones(|load| load.over_cones)),
        Field::named(Label::IfUnder, misses(), miss(|load| load.under, Miss::FireAgain)),
        Field::named(Label::IfOver, misses(), miss(|load| load.over, Miss::Lost)),
        Field::filled(Label::UsualLength, length.unwrap_or_default()),
    ];
    let cautions = known.map(|load| load.cautions.as_slice()).unwrap_or_default();
    fields.extend(Field::lines(Label::Caution, cautions));
    if known.is_none() {
        fields.insert(0, Field::text(Label::Name));
    }
    Form::new(Title::LoadType, known.map_or("", |load| &load.name), About::Shop, fields)
}

impl Form {
    pub(super) fn kiln_set(&self, scene: &Scene) -> Result<What, Problem> {
        let name = self.name(|name| scene.kilns.iter().any(|kiln| same_name(&kiln.kiln, name)))?;
        let fuel = self.chosen(Label::Fuel).and_then(|place| Fuel::ALL.get(place).copied());
        let fuel = fuel.ok_or_else(|| Problem::Wrong(words::SAY_FUEL.into()))?;
        Ok(What::KilnSet(Kiln {
            name,
            fuel,
            litres: self.optional(Label::Litres, typed::read_litres)?,
            ceiling: self.optional(Label::Ceiling, Celsius::parse)?,
            fastest_climb: self.optional(Label::FastestClimb, CelsiusPerHour::parse)?,
        }))
    }

    pub(super) fn load_type_set(&self, scene: &Scene) -> Result<What, Problem> {
        let known = |name: &str| scene.load_types.iter().find(|load| same_name(&load.name, name));
        let name = self.name(|name| known(name).is_some())?;
        let wrong = |text: String| Problem::Wrong(text);
        let target = Cone::parse(self.typed(Label::Cone)).map_err(|e| wrong(e.to_string()))?;
        let family = self.chosen(Label::Family).and_then(|place| Family::ALL.get(place).copied());
        let family = family.unwrap_or(Family::SelfSupporting);
        crate::cone::curve(target, family).map_err(|error| wrong(error.to_string()))?;
        let cones =
            |label| typed::tolerance(self.typed(label)).map_err(|error| wrong(error.to_string()));
        let miss = |label| self.chosen(label).and_then(|place| Miss::ALL.get(place).copied());
        Ok(What::LoadTypeSet(LoadType {
            cautions: self.lines(Label::Caution),
            name,
            target,
            family,
            under_cones: cones(Label::Under)?,
            over_cones: cones(Label::Over)?,
            under: miss(Label::IfUnder).unwrap_or(Miss::FireAgain),
            over: miss(Label::IfOver).unwrap_or(Miss::Lost),
            usual_length: self.optional(Label::UsualLength, Span::parse)?,
        }))
    }

    /// The name of what is described anew, or a new one that nothing here has yet.
    fn name(&self, is_known: impl Fn(&str) -> bool) -> Result<String, Problem> {
        if !self.kiln.is_empty() {
            return Ok(self.kiln.clone());
        }
        let name = typed::name(self.typed(Label::Name));
        let name = name.map_err(|error| Problem::Wrong(error.to_string()))?;
        if is_known(&name) {
            return Err(Problem::Wrong(words::name_taken(&name)));
        }
        Ok(name)
    }

    /// A field that may stay empty.
    fn optional<T, E: std::fmt::Display>(
        &self,
        label: Label,
        read: impl Fn(&str) -> Result<T, E>,
    ) -> Result<Option<T>, Problem> {
        match self.typed(label) {
            "" => Ok(None),
            text => read(text).map(Some).map_err(|error| Problem::Wrong(error.to_string())),
        }
    }
}
