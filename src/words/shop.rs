//! What is said of the shop: its kilns, its load types, whom it calls and how it shows things.

use super::dial::{Clock, Dial};
use super::story::{alarm_word, happened_line};
use crate::alarm::WayName;
use crate::cooling::USUAL_DRAW_BELOW;
use crate::kiln::{Kiln, LoadType};
use crate::scene::Happened;
use crate::units::{Celsius, Moment, Scale};

pub const SHOP_TITLE: &str = "Shop";

/// `North            gas       250 litres, up to 1260 C`.
pub fn kiln_line(kiln: &Kiln, scale: Scale) -> String {
    let facts = [
        kiln.litres.map(|litres| format!("{litres} litres")),
        kiln.ceiling.map(|ceiling| format!("up to {}", ceiling.display(scale))),
        kiln.fastest_climb.map(|climb| format!("climbs {} at most", climb.display(scale))),
    ];
    let facts: Vec<String> = facts.into_iter().flatten().collect();
    let line = format!("{:<16} {:<9} {}", kiln.name, kiln.fuel, facts.join(", "));
    line.trim_end().to_owned()
}

/// `bring a kiln back: Otter, Wren`.
pub fn bring_back<'a>(retired: impl Iterator<Item = &'a str>) -> String {
    format!("bring a kiln back: {}", retired.collect::<Vec<_>>().join(", "))
}

/// `; 2026-03-11 9:40 note: new elements`, behind the line of a kiln.
pub fn last_said((at, happened): &(Moment, Happened), now: Moment, dial: &Dial<'_>) -> String {
    format!("; {} {}", dial.time_and_day(*at, now), happened_line(happened, dial))
}

/// `gold                   cone 018   self-supporting  -0.5 to +0.25 cones`.
pub fn load_type_line(load: &LoadType) -> String {
    format!(
        "{:<22} cone {:<5} {:<16} -{} to +{} cones",
        load.name,
        load.target,
        load.family.name(),
        load.under_cones,
        load.over_cones
    )
}

/// Said where nobody said when somebody is there.
pub const NOBODY_ANY_DAY: &str = "Nobody is here on any day of the week.";
pub const NO_HOURS: &str =
    "Nobody has said when somebody is here. Say it with: spyhole hours set mon-fri 8:00 17:30";

/// What is done with something of a list.
pub const KEEP_OR_DROP: [&str; 2] = ["keep it", "take it off the list"];
pub const SAY_WHICH_ALARM: &str = "First say which kiln and which alarm.";
/// Said where a form is about no setting.
pub const NO_SETTING: &str = "The shop has no setting of that name.";

/// `shown in F, clock of 12 h; drawn below 212 F; own schedules in /home/ada/schedules`.
pub fn house_line(
    scale: Scale,
    clock: Clock,
    folder: Option<&str>,
    draw_below: Option<Celsius>,
) -> String {
    let folder = folder.map_or("beside the shop's file".into(), |folder| format!("in {folder}"));
    let below = draw_below.unwrap_or(USUAL_DRAW_BELOW).display(scale);
    format!("shown in {scale}, {clock} clock; unloaded below {below}; own schedules {folder}")
}

/// `6:00 to 18:00`.
pub fn hours_text(from: &str, to: &str) -> String {
    format!("{from} to {to}")
}

/// `bell: at most 80 % loud, low priority quiet 22:00 to 7:00`.
pub fn bell_line(muted: Option<(&str, &str)>, loudest: Option<f64>) -> String {
    let loud = format!("bell: at most {:.0} % loud", 100.0 * loudest.unwrap_or(1.0));
    let muted = muted.map(|(from, to)| format!(", low priority quiet {}", hours_text(from, to)));
    loud + &muted.unwrap_or_default()
}

/// What a way to ring is called.
pub fn way_word(way: WayName) -> &'static str {
    match way {
        WayName::Email => "e-mail",
        WayName::Mqtt => "MQTT",
        way => way.name(),
    }
}

/// `ring by e-mail: mail.example.org`.
pub fn way_line(way: WayName, leads_to: Option<&str>) -> String {
    format!("ring by {}: {}", way_word(way), leads_to.unwrap_or("not set up"))
}

/// `call Ada by sound, desktop; on duty 6:00 to 18:00`.
pub fn person_line(
    name: &str,
    ways: &[String],
    reach: &str,
    on_duty: Option<(&str, &str)>,
) -> String {
    let reach = if reach.is_empty() { String::new() } else { format!(" at {reach}") };
    let duty = on_duty.map(|(from, to)| format!("; on duty {}", hours_text(from, to)));
    format!("call {name} by {}{reach}{}", ways.join(", "), duty.unwrap_or_default())
}

/// `out of service at North: probe trouble, the probe is at the maker's`.
pub fn resting_line(kiln: &str, alarm: &str, why: &str) -> String {
    format!("out of service at {kiln}: {}, {why}", alarm_word(alarm))
}

pub fn not_hours(seen: &str) -> String {
    format!("\"{seen}\" is not a span of hours: write it like 6:00 to 18:00, or leave it empty.")
}

pub fn not_a_whole_path(seen: &str) -> String {
    format!("\"{seen}\" is not a full path: start from the root, like /home/ada/schedules.")
}

pub fn not_a_number(seen: &str) -> String {
    format!("\"{seen}\" is not a number for this: write it like 0.5 or 100.")
}

/// What will be kept if the form is confirmed: lines that are there afterwards.
pub fn will_keep(line: &str) -> String {
    format!("Enter saves: {line}.")
}

pub const WILL_DROP: &str = "Enter takes it off the list.";

/// Why settings cannot be changed here.
pub fn put_right_first(why: &str) -> String {
    format!("{why}. Put the file right first.")
}

/// After settings were kept.
pub const KEPT: &str = "Kept in the shop's settings: whoever keeps watch goes by them from now on.";
