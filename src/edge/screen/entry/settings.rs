//! Forms for what the shop keeps beside its journal: how things are shown, and whom it calls. What
//! is confirmed goes into the very files the command line reads, by the rules it reads them by.

use std::path::{Path, PathBuf};

use super::Problem;
use crate::alarm::WayName;
use crate::alarm::rules::RULES;
use crate::closed::Word;
use crate::edge::bell::settings::{BellFile, HoursKeys, OutKeys, PersonKeys};
use crate::edge::house_file::House;
use crate::edge::screen::form::{Field, Form};
use crate::edge::shop::store::{About, Settings};
use crate::scene::Scene;
use crate::units::Scale;
use crate::words::{self, Clock, Dial, Title, asks};

/// The form for how things are shown, and where the shop's own schedules are.
pub fn house(house: &House, dial: &Dial<'_>) -> Form {
    let (scale, clock) = (house.scale.unwrap_or(dial.scale), house.clock.unwrap_or(dial.clock));
    let folder = house.schedules.as_ref().map(|folder| folder.display().to_string());
    let draw_below = house.draw_below.map(|below| format!("{}C", below.0));
    let fields = vec![
        Field::words(&asks::SCALE, Scale::ALL.map(Scale::name), scale.name()),
        Field::words(&asks::CLOCK, Clock::ALL.map(Clock::name), clock.name()),
        Field::filled(&asks::FOLDER, folder.unwrap_or_default()),
        Field::filled(&asks::DRAW_BELOW, draw_below.unwrap_or_default()),
    ];
    Form::new(Title::House, "", About::Shop, fields)
}

/// The form for what the bell does, whoever is called.
pub fn bell(bell: &BellFile) -> Form {
    let text = |value: Option<String>| value.unwrap_or_default();
    let fields = vec![
        Field::filled(&asks::MUTED, text(bell.muted.as_ref().map(hours_text))),
        Field::filled(&asks::LOUDEST, text(bell.loudest.map(|loudest| loudest.to_string()))),
    ];
    Form::new(Title::Bell, "", About::Shop, fields)
}

/// The form for a way to ring that has to be set up.
pub fn way(way: WayName, bell: &BellFile) -> Form {
    let mut fields = Vec::new();
    for (asks, lines) in bell.set_up(way) {
        match asks.is_many() {
            true => fields.extend(Field::lines(asks, lines)),
            false => fields.push(Field::filled(asks, lines.concat())),
        }
    }
    Form::new(Title::Way(way), "", About::Shop, fields)
}

/// The form for somebody who is called, or for somebody new.
pub fn person(known: Option<(usize, &PersonKeys)>) -> Form {
    let text = |of: fn(&PersonKeys) -> String| known.map_or_else(String::new, |(_, one)| of(one));
    let on_duty = |one: &PersonKeys| one.on_duty.as_ref().map(hours_text).unwrap_or_default();
    let fields = vec![
        Field::filled(&asks::NAME, text(|one| one.name.clone())),
        Field::filled(&asks::WAYS, text(|one| one.ways.join(", "))),
        Field::filled(&asks::REACH, text(|one| one.reach.clone())),
        Field::filled(&asks::ON_DUTY, text(on_duty)),
    ];
    let name = known.map_or("", |(_, one)| one.name.as_str());
    listed(Form::new(Title::Person, name, About::Shop, fields), known.map(|(place, _)| place))
}

/// The form for an alarm out of service, or for one more.
pub fn resting(known: Option<(usize, &OutKeys)>, scene: &Scene) -> Form {
    let out = known.map(|(_, out)| out);
    let mut kilns: Vec<String> = scene.kilns.iter().map(|kiln| kiln.kiln.clone()).collect();
    kilns.sort_unstable();
    // A kiln that is gone from the shop stays named as it was.
    let kiln = out.map(|out| scene.names.now(&out.kiln).to_owned()).unwrap_or_default();
    kilns.extend(Some(kiln.clone()).filter(|kiln| !kiln.is_empty() && !kilns.contains(kiln)));
    let alarms = tasks().map(|name| (words::alarm_word(name), name));
    let fields = vec![
        Field::words(&asks::KILN, kilns.iter().map(String::as_str), &kiln),
        Field::named(&asks::ALARM, alarms, out.map_or("", |out| &out.alarm)),
        Field::filled(&asks::WHY, out.map(|out| out.why.clone()).unwrap_or_default()),
    ];
    listed(Form::new(Title::Resting, &kiln, About::Shop, fields), known.map(|(place, _)| place))
}

/// Something of a list can be taken off it.
fn listed(mut form: Form, place: Option<usize>) -> Form {
    if place.is_some() {
        let [keep, drop] = words::KEEP_OR_DROP;
        form.fields.push(Field::words(&asks::KEEP, [keep, drop], keep));
    }
    form.place = place;
    form
}

/// The names of the alarms that can be out of service.
fn tasks() -> impl Iterator<Item = &'static str> {
    let shelvable = |rule: &&crate::alarm::AlarmRule| rule.priority.longest_shelf().is_some();
    RULES.iter().filter(shelvable).map(|rule| rule.task.name())
}

impl Form {
    /// Whether it takes something off its list.
    pub fn drops(&self) -> bool {
        self.said("keep") == words::KEEP_OR_DROP[1]
    }

    /// What the shop would keep if this form were confirmed now.
    ///
    /// # Errors
    /// A [`Problem`] with its sentence.
    pub fn kept(&self, settings: &Settings) -> Result<Settings, Problem> {
        let mut becomes = settings.clone();
        match self.title {
            Title::House => becomes.house = Ok(self.house()?),
            Title::Bell | Title::Way(_) | Title::Person | Title::Resting => {
                let mut bell = settings.bell.clone().map_err(Problem::Wrong)?;
                match self.title {
                    Title::Person => change(&mut bell.people, self, Form::person)?,
                    Title::Resting => change(&mut bell.out_of_service, self, Form::resting)?,
                    Title::Way(way) => {
                        bell = bell.with(way, |key| self.lines(key)).map_err(Problem::Wrong)?;
                    }
                    _ => self.ring_so(&mut bell)?,
                }
                bell.meant().map_err(Problem::Wrong)?;
                becomes.bell = Ok(bell);
            }
            _ => return Err(Problem::Wrong(words::NO_SETTING.into())),
        }
        Ok(becomes)
    }

    pub(super) fn house(&self) -> Result<House, Problem> {
        let folder = self.said("folder");
        if !folder.is_empty() && !Path::new(folder).is_absolute() {
            return Err(Problem::Wrong(words::not_a_whole_path(folder)));
        }
        let draw_below = match self.said("draw_below") {
            "" => None,
            text => Some(House::draw_below_of(text).map_err(Problem::Wrong)?),
        };
        Ok(House {
            draw_below,
            scale: Scale::named(self.said("scale")),
            clock: Clock::named(self.said("clock")),
            schedules: (!folder.is_empty()).then(|| PathBuf::from(folder)),
        })
    }

    fn person(&self) -> Result<PersonKeys, Problem> {
        let ways = self.said("ways").split([',', ' ']).filter(|way| !way.is_empty());
        let name = crate::kiln::typed::name(self.said("name"));
        Ok(PersonKeys {
            name: name.map_err(|error| Problem::Wrong(error.to_string()))?,
            ways: ways.map(str::to_owned).collect(),
            reach: self.said("reach").to_owned(),
            on_duty: hours(self.said("on_duty"))?,
        })
    }

    fn resting(&self) -> Result<OutKeys, Problem> {
        let (kiln, alarm) = (self.said("kiln").to_owned(), self.said("alarm").to_owned());
        if kiln.is_empty() || alarm.is_empty() {
            return Err(Problem::Wrong(words::SAY_WHICH_ALARM.into()));
        }
        Ok(OutKeys { kiln, alarm, why: self.said("why").to_owned() })
    }

    fn ring_so(&self, bell: &mut BellFile) -> Result<(), Problem> {
        bell.muted = hours(self.said("muted"))?;
        bell.loudest = match self.said("loudest") {
            "" => None,
            text => Some(number(text)?),
        };
        Ok(())
    }
}

/// Adds what a form says to a list, puts it in the place of what was there, or takes that off.
fn change<T>(
    list: &mut Vec<T>,
    form: &Form,
    read: fn(&Form) -> Result<T, Problem>,
) -> Result<(), Problem> {
    let taken_off = form.drops();
    match form.place.filter(|place| *place < list.len()) {
        Some(place) if taken_off => {
            list.remove(place);
        }
        Some(place) => list[place] = read(form)?,
        None => list.push(read(form)?),
    }
    Ok(())
}

fn hours_text(hours: &HoursKeys) -> String {
    words::hours_text(&hours.from, &hours.to)
}

/// `6:00 to 18:00`; nothing where nothing is typed.
fn hours(text: &str) -> Result<Option<HoursKeys>, Problem> {
    if text.is_empty() {
        return Ok(None);
    }
    let parts = text.split_once(" to ").or_else(|| text.split_once('-'));
    let (from, to) = parts.ok_or_else(|| Problem::Wrong(words::not_hours(text)))?;
    let part = |text: &str| text.trim().to_owned();
    Ok(Some(HoursKeys { from: part(from), to: part(to) }))
}

fn number<T: std::str::FromStr>(text: &str) -> Result<T, Problem> {
    text.parse().map_err(|_| Problem::Wrong(words::not_a_number(text)))
}
