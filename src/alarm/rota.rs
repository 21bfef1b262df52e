//! Whom to call, and by which way: who is on duty, what they can be reached by, what is muted.

use super::priority::Priority;

closed! {
    /// A way to ring.
    #[derive(PartialOrd, Ord, Hash)]
    pub enum WayName {
        Sound => "sound",
        Desktop => "desktop",
        /// The terminal's bell, and a flash of the whole screen where there is one.
        Terminal => "terminal",
        /// A command of the shop's own.
        Command => "command",
        /// The headline said aloud, after the sound.
        Speech => "speech",
        /// A request to a web address.
        Webhook => "webhook",
        Email => "email",
        /// Messages for other programs of the shop, by a broker.
        Mqtt => "mqtt",
        /// The devices of the page.
        Page => "page",
    }
}

/// A time of day: minutes since local midnight, 0 to 1439.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct MinuteOfDay(u16);

/// A part of the day; it may run over midnight. From the same minute to the same is the whole day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Hours {
    pub from: MinuteOfDay,
    pub to: MinuteOfDay,
}

/// Somebody who can be called.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Person {
    pub name: String,
    /// Handed on to the shop's own command and the webhook, and written to: an address, a number.
    pub reach: String,
    /// In the order they are tried.
    pub ways: Vec<WayName>,
    /// When they are on duty; `None`: always.
    pub hours: Option<Hours>,
}

/// One person by one way.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Target {
    pub person: String,
    pub reach: String,
    pub way: WayName,
}

/// Everybody, in the order they are called.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rota {
    pub people: Vec<Person>,
    /// When alarms of low priority make no sound.
    pub muted: Option<Hours>,
}

impl MinuteOfDay {
    /// `None` from 24:00 on.
    pub const fn new(hour: u16, minute: u16) -> Option<MinuteOfDay> {
        if hour < 24 && minute < 60 { Some(MinuteOfDay(hour * 60 + minute)) } else { None }
    }

    /// From the seconds since local midnight; a leap second counts to the last minute.
    pub fn of_second(second: u32) -> MinuteOfDay {
        MinuteOfDay((second / 60).min(1439) as u16)
    }
}

impl Hours {
    pub fn contains(self, minute: MinuteOfDay) -> bool {
        if self.from < self.to {
            self.from <= minute && minute < self.to
        } else {
            self.from <= minute || minute < self.to
        }
    }
}

impl WayName {
    /// Whether it makes a noise in the shop.
    fn is_heard(self) -> bool {
        matches!(self, WayName::Sound | WayName::Terminal | WayName::Speech | WayName::Page)
    }

    /// Whether it reaches whoever is near, so that calling two people by it is calling once.
    fn is_shared(self) -> bool {
        !matches!(self, WayName::Command | WayName::Webhook | WayName::Email)
    }
}

impl Default for Rota {
    /// Whoever is near, by everything a machine has by itself.
    fn default() -> Self {
        let ways = vec![WayName::Sound, WayName::Desktop, WayName::Terminal];
        let whoever = Person { name: String::new(), reach: String::new(), ways, hours: None };
        Rota { people: vec![whoever], muted: None }
    }
}

impl Rota {
    /// Everybody by every way, in the order they are called: those on duty first, and for the two
    /// upper priorities the others after them.
    pub fn ladder(&self, priority: Priority, minute: MinuteOfDay) -> Vec<Target> {
        let on_duty = |person: &&Person| person.hours.is_none_or(|hours| hours.contains(minute));
        let urgent = priority <= Priority::High;
        let nobody = !self.people.iter().any(|person| on_duty(&person));
        let others = self.people.iter().filter(|person| !on_duty(person) && (urgent || nobody));
        let muted =
            priority == Priority::Low && self.muted.is_some_and(|hours| hours.contains(minute));
        let mut ladder: Vec<Target> = Vec::new();
        for person in self.people.iter().filter(on_duty).chain(others) {
            for &way in &person.ways {
                let there = way.is_shared() && ladder.iter().any(|target| target.way == way);
                let silent = muted && way.is_heard();
                if !there && !silent {
                    let (person, reach) = (person.name.clone(), person.reach.clone());
                    ladder.push(Target { person, reach, way });
                }
            }
        }
        ladder
    }

    /// Whoever is near by what the machine has and nobody is called by: for when nobody is reached.
    pub fn last_resort(&self, priority: Priority, minute: MinuteOfDay) -> Vec<Target> {
        let ladder = self.ladder(priority, minute);
        let mut own = Rota { muted: self.muted, ..Rota::default() }.ladder(priority, minute);
        own.retain(|target| ladder.iter().all(|tried| tried.way != target.way));
        own
    }

    /// How many rungs of the ladder are called at first.
    pub fn begins_with(priority: Priority) -> usize {
        match priority {
            Priority::Highest => 3,
            Priority::High => 2,
            Priority::Medium | Priority::Low => 1,
        }
    }
}
