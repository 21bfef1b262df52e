//! The shop, line by line: what it has, how it likes things shown, whom it calls.

use crate::alarm::WayName;
use crate::edge::house_file::House;
use crate::edge::screen::pick::Pick;
use crate::edge::shop::store::Settings;
use crate::scene::{KilnScene, Scene};
use crate::words::{self, Dial, Title, asks};

/// The shop's list, and what it keeps beside its journal.
#[derive(Debug, Clone, Default)]
pub struct ShopView {
    pub pick: Pick,
    /// `None` until they were read, and for a shop that keeps none.
    pub settings: Option<Box<Settings>>,
}

/// One line of the shop. People and alarms out of service go by their place in the bell's file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ShopRow<'a> {
    Kiln(&'a str),
    LoadType(&'a str),
    /// By its place in the week.
    Hours(usize),
    /// By its place among the closed days.
    Closed(usize),
    Limits,
    House,
    Bell,
    /// A way to ring that has to be set up.
    Way(WayName),
    Person(usize),
    Resting(usize),
    /// The form of something new, or of a kiln that is picked in it.
    Begins(Title),
    /// Settings that cannot be read, and why.
    Garbled(&'a str),
}

impl ShopView {
    /// The lines that the filter leaves.
    pub fn found<'a>(&'a self, scene: &'a Scene, dial: &Dial<'_>) -> Vec<ShopRow<'a>> {
        let rows = self.rows(scene);
        let found = self.pick.with_words(rows.iter().map(|row| self.line(*row, scene, dial)));
        found.into_iter().map(|place| rows[place]).collect()
    }

    /// Everything the shop has, and what can be added to it, in the order shown.
    fn rows<'a>(&'a self, scene: &'a Scene) -> Vec<ShopRow<'a>> {
        let mut kilns: Vec<&str> = scene.kilns.iter().map(|kiln| kiln.kiln.as_str()).collect();
        kilns.sort_unstable();
        let mut rows: Vec<ShopRow<'_>> = kilns.into_iter().map(ShopRow::Kiln).collect();
        let any = !rows.is_empty();
        rows.push(ShopRow::Begins(Title::Kiln));
        rows.extend(
            [Title::Rename, Title::Retire].map(ShopRow::Begins).into_iter().filter(|_| any),
        );
        rows.extend((!scene.retired.is_empty()).then_some(ShopRow::Begins(Title::BringBack)));
        rows.extend(scene.load_types.iter().map(|load| ShopRow::LoadType(&load.name)));
        rows.push(ShopRow::Begins(Title::LoadType));
        rows.extend((0..scene.hours.spans().len()).map(ShopRow::Hours));
        rows.push(ShopRow::Begins(Title::Hours));
        rows.extend((0..scene.hours.closed.len()).map(ShopRow::Closed));
        rows.extend([ShopRow::Begins(Title::Closed), ShopRow::Limits]);
        let Some(settings) = &self.settings else { return rows };
        rows.push(match &settings.house {
            Ok(_) => ShopRow::House,
            Err(why) => ShopRow::Garbled(why),
        });
        match &settings.bell {
            Err(why) => rows.push(ShopRow::Garbled(why)),
            Ok(bell) => {
                rows.push(ShopRow::Bell);
                rows.extend(asks::OF_WAYS.iter().map(|(way, _)| ShopRow::Way(*way)));
                rows.extend((0..bell.people.len()).map(ShopRow::Person));
                rows.push(ShopRow::Begins(Title::Person));
                rows.extend((0..bell.out_of_service.len()).map(ShopRow::Resting));
                rows.push(ShopRow::Begins(Title::Resting));
            }
        }
        rows
    }

    /// A line, as it is shown and filtered.
    pub fn line(&self, row: ShopRow<'_>, scene: &Scene, dial: &Dial<'_>) -> String {
        let bell = self.settings.as_ref().and_then(|settings| settings.bell.as_ref().ok());
        match row {
            ShopRow::Limits => words::limits_line(&scene.limits, dial.clock),
            ShopRow::Begins(Title::BringBack) => {
                words::bring_back(scene.retired.iter().map(|one| &*one.name))
            }
            ShopRow::Begins(title) => words::begins(title).into(),
            ShopRow::Hours(place) => {
                let hours = scene.hours.spans().get(place).copied();
                hours.map_or_else(String::new, |hours| words::hours_line(&hours, dial.clock))
            }
            ShopRow::Closed(place) => {
                let closed = scene.hours.closed.get(place);
                closed.map_or_else(String::new, |(_, closed)| words::closed_line(closed))
            }
            ShopRow::Garbled(why) => why.to_owned(),
            ShopRow::Kiln(name) => {
                let line = |kiln: &KilnScene| {
                    let last =
                        kiln.of_kiln.last().map(|said| words::last_said(said, scene.now, dial));
                    words::kiln_line(&kiln.described, dial.scale) + &last.unwrap_or_default()
                };
                scene.kiln(name).map_or_else(String::new, line)
            }
            ShopRow::LoadType(name) => {
                let load = scene.load_types.iter().find(|load| load.name == name);
                load.map_or_else(String::new, words::load_type_line)
            }
            ShopRow::House => {
                let house =
                    self.settings.as_ref().and_then(|settings| settings.house.as_ref().ok());
                house.map_or_else(String::new, |house| house_line(house, dial))
            }
            ShopRow::Bell => bell.map_or_else(String::new, |bell| {
                let muted = bell.muted.as_ref().map(|hours| (&*hours.from, &*hours.to));
                words::bell_line(muted, bell.loudest)
            }),
            ShopRow::Way(way) => {
                let leads_to = bell.and_then(|bell| bell.leads_to(way));
                words::way_line(way, leads_to.as_deref())
            }
            ShopRow::Person(place) => {
                let person = bell.and_then(|bell| bell.people.get(place));
                person.map_or_else(String::new, |person| {
                    let hours = person.on_duty.as_ref().map(|hours| (&*hours.from, &*hours.to));
                    words::person_line(&person.name, &person.ways, &person.reach, hours)
                })
            }
            ShopRow::Resting(place) => {
                let out = bell.and_then(|bell| bell.out_of_service.get(place));
                out.map_or_else(String::new, |out| {
                    words::resting_line(scene.names.now(&out.kiln), &out.alarm, &out.why)
                })
            }
        }
    }
}

/// How things are shown; what the shop says nothing of is as it is now.
fn house_line(house: &House, dial: &Dial<'_>) -> String {
    let folder = house.schedules.as_ref().map(|folder| folder.display().to_string());
    let (scale, clock) = (house.scale.unwrap_or(dial.scale), house.clock.unwrap_or(dial.clock));
    words::house_line(scale, clock, folder.as_deref(), house.draw_below)
}
