//! Forms for what the shop keeps beside its journal: how things are shown, and whom it calls. What
//! is confirmed goes into the very files the command line reads, by the rules it reads them by.

use std::path::{Path, PathBuf};

use super::Problem;
use crate::alarm::rules::RULES;
use crate::edge::bell::settings::{
    BellFile, CommandSettings, HoursKeys, OutKeys, PersonKeys, USUAL_COMMAND_S,
};
use crate::edge::house_file::House;
use crate::edge::screen::form::{Field, Form};
use crate::edge::screen::store::{About, Settings};
use crate::scene::Scene;
use crate::units::Scale;
use crate::words::{self, Clock, Dial, Label, Title};

/// In the order of the form's choices.
const SCALES: [Scale; 2] = [Scale::Celsius, Scale::Fahrenheit];
const CLOCKS: [Clock; 2] = [Clock::TwentyFourHour, Clock::TwelveHour];

/// The form for how things are shown, and where the shop's own schedules are.
pub fn house(house: &House, dial: &Dial<'_>) -> Form {
    let (scale, clock) = (house.scale.unwrap_or(dial.scale), house.clock.unwrap_or(dial.clock));
    let folder = house.schedules.as_ref().map(|folder| folder.display().to_string());
    let draw_below = house.draw_below.map(|below| format!("{}C", below.0));
    let scales = SCALES.map(words::scale_word).into_iter().map(str::to_owned);
    let clocks = CLOCKS.map(words::clock_word).into_iter().map(str::to_owned);
    let fields = vec![
        Field::named(Label::Scale, scales, SCALES.iter().position(|one| *one == scale)),
        Field::named(Label::Clock, clocks, CLOCKS.iter().position(|one| *one == clock)),
        Field::filled(Label::Folder, folder.unwrap_or_default()),
        Field::filled(Label::DrawBelow, draw_below.unwrap_or_default()),
    ];
    Form::new(Title::House, "", About::Shop, fields)
}

/// The form for what the bell does, whoever is called.
pub fn bell(bell: &BellFile) -> Form {
    let command = bell.command.as_ref();
    let text = |value: Option<String>| value.unwrap_or_default();
    let limit = command.map(|command| words::seconds_text(command.time_limit_s));
    let mut fields = vec![
        Field::filled(Label::Muted, text(bell.muted.as_ref().map(hours_text))),
        Field::filled(Label::Loudest, text(bell.loudest.map(|loudest| loudest.to_string()))),
        Field::filled(Label::Program, text(command.map(|command| command.program.clone()))),
    ];
    let arguments = command.map(|command| command.arguments.as_slice()).unwrap_or_default();
    fields.extend(Field::lines(Label::Argument, arguments));
    fields.push(Field::filled(Label::TimeLimit, text(limit)));
    Form::new(Title::Bell, "", About::Shop, fields)
}

/// The form for somebody who is called, or for somebody new.
pub fn person(known: Option<(usize, &PersonKeys)>) -> Form {
    let text = |of: fn(&PersonKeys) -> String| known.map_or_else(String::new, |(_, one)| of(one));
    let on_duty = |one: &PersonKeys| one.on_duty.as_ref().map(hours_text).unwrap_or_default();
    let fields = vec![
        Field::filled(Label::Name, text(|one| one.name.clone())),
        Field::filled(Label::Ways, text(|one| one.ways.join(", "))),
        Field::filled(Label::Reach, text(|one| one.reach.clone())),
        Field::filled(Label::OnDuty, text(on_duty)),
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
    kilns.extend(out.map(|out| out.kiln.clone()).filter(|kiln| !kilns.contains(kiln)));
    let alarms = || causes().map(words::alarm_word);
    let kiln = out.and_then(|out| kilns.iter().position(|kiln| *kiln == out.kiln));
    let alarm = out.and_then(|out| causes().position(|name| name == out.alarm));
    let fields = vec![
        Field::named(Label::Kiln, kilns.into_iter(), kiln),
        Field::named(Label::Alarm, alarms(), alarm),
        Field::filled(Label::Reason, out.map(|out| out.why.clone()).unwrap_or_default()),
    ];
    let kiln = out.map_or("", |out| out.kiln.as_str());
    listed(Form::new(Title::Resting, kiln, About::Shop, fields), known.map(|(place, _)| place))
}

/// Something of a list can be taken off it.
fn listed(mut form: Form, place: Option<usize>) -> Form {
    if place.is_some() {
        let words = words::KEEP_OR_DROP.into_iter().map(str::to_owned);
        form.fields.push(Field::named(Label::Keep, words, Some(0)));
    }
    form.place = place;
    form
}

/// The names of the alarms that can be out of service.
fn causes() -> impl Iterator<Item = &'static str> {
    let shelvable = |rule: &&crate::alarm::Rule| rule.priority.longest_shelf().is_some();
    RULES.iter().filter(shelvable).map(|rule| rule.cause.name())
}

impl Form {
    /// What the shop would keep if this form were confirmed now.
    ///
    /// # Errors
    /// A [`Problem`] with its sentence.
    pub fn kept(&self, settings: &Settings) -> Result<Settings, Problem> {
        let mut becomes = settings.clone();
        match self.title {
            Title::House => becomes.house = Ok(self.house()?),
            Title::Bell | Title::Person | Title::Resting => {
                let mut bell = settings.bell.clone().map_err(Problem::Wrong)?;
                match self.title {
                    Title::Person => change(&mut bell.people, self, Form::person)?,
                    Title::Resting => change(&mut bell.out_of_service, self, Form::resting)?,
                    _ => self.ring_so(&mut bell)?,
                }
                bell.meant().map_err(Problem::Wrong)?;
                becomes.bell = Ok(bell);
            }
            _ => return Err(Problem::Wrong(words::NO_SETTING.into())),
        }
        Ok(becomes)
    }

    fn house(&self) -> Result<House, Problem> {
        let folder = self.typed(Label::Folder);
        if !folder.is_empty() && !Path::new(folder).is_absolute() {
            return Err(Problem::Wrong(words::not_a_whole_path(folder)));
        }
        let draw_below = match self.typed(Label::DrawBelow) {
            "" => None,
            text => Some(House::draw_below_of(text).map_err(Problem::Wrong)?),
        };
        Ok(House {
            draw_below,
            scale: self.chosen(Label::Scale).and_then(|place| SCALES.get(place).copied()),
            clock: self.chosen(Label::Clock).and_then(|place| CLOCKS.get(place).copied()),
            schedules: (!folder.is_empty()).then(|| PathBuf::from(folder)),
        })
    }

    fn person(&self) -> Result<PersonKeys, Problem> {
        let ways = self.typed(Label::Ways).split([',', ' ']).filter(|way| !way.is_empty());
        let name = crate::kiln::typed::name(self.typed(Label::Name));
        Ok(PersonKeys {
            name: name.map_err(|error| Problem::Wrong(error.to_string()))?,
            ways: ways.map(str::to_owned).collect(),
            reach: self.typed(Label::Reach).to_owned(),
            on_duty: hours(self.typed(Label::OnDuty))?,
        })
    }

    fn resting(&self) -> Result<OutKeys, Problem> {
        let kiln = self.chosen_word(Label::Kiln);
        let alarm = self.chosen(Label::Alarm).and_then(|place| causes().nth(place));
        match (kiln, alarm) {
            (Some(kiln), Some(alarm)) => Ok(OutKeys {
                kiln: kiln.to_owned(),
                alarm: alarm.to_owned(),
                why: self.typed(Label::Reason).to_owned(),
            }),
            _ => Err(Problem::Wrong(words::SAY_WHICH_ALARM.into())),
        }
    }

    fn ring_so(&self, bell: &mut BellFile) -> Result<(), Problem> {
        bell.muted = hours(self.typed(Label::Muted))?;
        bell.loudest = match self.typed(Label::Loudest) {
            "" => None,
            text => Some(number(text)?),
        };
        let (program, limit) = (self.typed(Label::Program), self.typed(Label::TimeLimit));
        let limit = limit.trim_end_matches('s').trim_end();
        let time_limit_s = if limit.is_empty() { USUAL_COMMAND_S } else { number(limit)? };
        bell.command = (!program.is_empty()).then(|| CommandSettings {
            program: program.to_owned(),
            arguments: self.lines(Label::Argument),
            time_limit_s,
        });
        Ok(())
    }
}

/// Adds what a form says to a list, puts it in the place of what was there, or takes that off.
fn change<T>(
    list: &mut Vec<T>,
    form: &Form,
    read: fn(&Form) -> Result<T, Problem>,
) -> Result<(), Problem> {
    let taken_off = form.chosen(Label::Keep) == Some(1);
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
