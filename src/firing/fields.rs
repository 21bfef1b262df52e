//! The fields of every kind of event, each described once: how it is stored, what may be said, and
//! what is asked.

use super::event::{Fullness, Seen, Verdict};
use crate::closed::Word;
use crate::cone::Family;
use crate::glow::{GlowWord, Room};
use crate::kiln::{Fuel, Miss};
use crate::units::{RATE_RANGE_C_PER_H, TEMPERATURE_RANGE_C};

/// One field of an event.
#[derive(Debug, PartialEq)]
pub struct Field {
    /// In records, in the journal and in answers for programs.
    pub key: &'static str,
    /// Beside it on the screen.
    pub label: &'static str,
    pub of: Of,
    /// A record is refused without it.
    pub needed: bool,
    /// What is said where it is left open and has to be said.
    pub missing: &'static str,
    /// What is taken where nobody says otherwise.
    pub usual: &'static str,
    /// How a record writes it.
    pub example: &'static str,
    /// The reason for its range.
    pub advice: &'static str,
    /// What may be typed.
    pub ask: &'static str,
    /// What it is, in a sentence.
    pub about: &'static str,
    /// The name of its argument, and what stands for its value there, if these are not the key.
    pub argument: (&'static str, &'static str),
    /// Said without the name of an argument.
    pub in_place: bool,
    /// Said so rarely that a form asks for it last.
    pub rare: bool,
}

/// What kind of value a field holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Of {
    /// The kiln the event is about.
    Kiln,
    LoadType,
    /// What a kiln or a load type is called.
    Name,
    /// The shop's own words; what they say, where they have to say something.
    Text(&'static str),
    /// Several texts.
    Texts,
    /// One of a few words, and what they tell.
    Word(&'static str, &'static [&'static str]),
    /// One of a few words that differ in their first letters, each chosen by it.
    Letter(&'static str, &'static [&'static str]),
    /// The alarms of the shop.
    Alarm,
    /// By name or file.
    Schedule,
    /// C.
    Temperature,
    /// C per hour.
    Rate,
    /// A length of time, minutes.
    Length,
    /// A moment to come, at this hour where only its day is said.
    Ahead(u32),
    /// A share of a kiln's room.
    Share,
    Litres,
    /// How far off a cone, in cones.
    Cones,
    /// In the shop's own.
    Money,
    Kilowatts,
    /// Of gold, typed or weighed before and after.
    Grams,
    Count,
    Cone,
    /// A cone, or the word that there is none.
    MaybeCone,
    Family,
    /// Cones read on the shelves.
    ShelfCones,
    /// Of the air in a room, C.
    RoomTemperature,
    /// Relative humidity, from 0 to 1.
    Humidity,
    /// Days of the week.
    WeekDays,
    TimeOfDay,
    /// A day of the calendar.
    Date,
    /// The number of an event.
    Event,
    /// What only the program says, within these bounds where it is a number.
    Program(f64, f64),
}

impl Of {
    /// The values allowed of a number, as it is stored.
    pub fn range(self) -> (f64, f64) {
        match self {
            Of::Temperature => TEMPERATURE_RANGE_C,
            Of::RoomTemperature => (-20.0, 60.0),
            Of::Humidity => (0.0, 1.0),
            Of::Rate => RATE_RANGE_C_PER_H,
            Of::Length => (0.0, 43_200.0),
            Of::Litres => (1.0, 100_000.0),
            Of::Cones => (0.0, 5.0),
            Of::Money => (0.0, 1e9),
            Of::Kilowatts => (0.1, 10_000.0),
            Of::Grams => (0.0, 10_000.0),
            Of::Share => (0.01, 20.0),
            Of::Program(low, high) => (low, high),
            _ => (f64::MIN, f64::MAX),
        }
    }

    /// The words to choose from, and what they tell.
    pub fn words(self) -> Option<(&'static str, &'static [&'static str])> {
        match self {
            Of::Word(tells, words) | Of::Letter(tells, words) => Some((tells, words)),
            Of::Family => Some(("the type of cone,", Family::NAMES)),
            _ => None,
        }
    }
}

impl Field {
    /// Whether it is said in several parts, each by itself.
    pub fn is_many(&self) -> bool {
        matches!(self.of, Of::Texts | Of::ShelfCones)
    }

    /// Whether somebody can say it, beside naming the kiln.
    pub fn is_entered(&self) -> bool {
        !matches!(self.of, Of::Kiln | Of::Program(..))
    }

    pub const fn new(key: &'static str, label: &'static str, of: Of) -> Field {
        Field {
            key,
            label,
            of,
            needed: false,
            missing: "",
            usual: "",
            example: "",
            advice: "",
            ask: "",
            about: "",
            argument: (key, ""),
            in_place: false,
            rare: false,
        }
    }

    const fn needed(self) -> Field {
        Field { needed: true, ..self }
    }

    const fn or_else(self, missing: &'static str) -> Field {
        Field { needed: true, missing, ..self }
    }

    const fn missing(self, missing: &'static str) -> Field {
        Field { missing, ..self }
    }

    const fn usual(self, usual: &'static str) -> Field {
        Field { needed: true, usual, ..self }
    }

    const fn like(self, example: &'static str, ask: &'static str) -> Field {
        Field { example, ask, ..self }
    }

    const fn within(self, advice: &'static str) -> Field {
        Field { advice, ..self }
    }

    const fn is(self, about: &'static str) -> Field {
        Field { about, ..self }
    }

    const fn by(self, argument: &'static str, value: &'static str) -> Field {
        Field { argument: (argument, value), ..self }
    }

    const fn in_place(self) -> Field {
        Field { in_place: true, ..self }
    }

    const fn rare(self) -> Field {
        Field { rare: true, ..self }
    }

    /// A field of a form that is no event.
    pub const fn asking(
        key: &'static str,
        label: &'static str,
        of: Of,
        ask: &'static str,
    ) -> Field {
        Field { ask, ..Field::new(key, label, of) }
    }
}

/// When it happened: of every event that somebody enters.
pub static WHEN: Field = Field::asking("at", "when", Of::Text(""), "now, or 9:10, 20 min ago");

const SAY_SOMETHING: &str = "Nothing is written here yet: type a few words.";
const SAY_LOAD: &str = "First say what the load is.";
const SAY_ALARM: &str = "First say which alarm.";
const LENGTH: &str = "a length of time in minutes, at most 30 days";
const FORGIVES: &str = "how far off the target is still good, in cones";
const CONES_ASK: &str = "how far the load forgives, 0 to 5";
const SEEN: &str = "what a cone does,";
const COSTS: &str = "what a miss costs,";

/// One field: key, label, kind of value, then what else is to be known of it; and what it is.
macro_rules! field {
    ($key:literal $label:literal $of:expr $(=> $($call:ident($($of_call:expr),*)),+)?; $about:expr) => {
        Field::new($key, $label, $of)$($(.$call($($of_call),*))+)?.is($about)
    };
}

mod bench;
mod reckoned;
mod ware;

pub use bench::{CHECK, DRAINED, MOULD, MOULD_RENAMED, POURED, ROOM};
pub use reckoned::{ACCEPTED, MARKED};
pub use ware::{DRAW_FROM, LIGHT_AT, LIMITS, LOT, PACK_FROM, PLANNED};

const THE_KILN: Field = field!("kiln" "kiln" Of::Kiln => needed(), like("\"North\"", ""); "The kiln, for example North.");
const THE_LOAD: Field = field!("load_type" "load" Of::LoadType =>
    or_else(SAY_LOAD), like("\"gold\"", ""), by("load", "TYPE");
    "The load type, for example gold. May be left out when the kiln was packed before.");
const TARGET: Field = field!("cone" "target cone" Of::Cone => like("\"018\"", "as usual for the load");
    "The target cone, if it is not the load type's own, for example 018.");
const GUIDE: Field = field!("guide" "guide" Of::MaybeCone =>
    like("\"018\"", "one cooler, as usual; or a cone, or none"), rare();
    "The guide cone, one cooler than the target; \"none\" if there is none.");
const GUARD: Field = field!("guard" "guard" Of::MaybeCone =>
    like("\"018\"", "one hotter, as usual; or a cone, or none"), rare();
    "The guard cone, one hotter than the target; \"none\" if there is none.");
const FAMILY: Field = field!("cone_family" "cone type" Of::Family => by("family", ""), rare();
    "The type of the cones, if it is not the load type's own, for example large.");

const HOW_FULL: Field = field!("full" "how full" Of::Word("how full the kiln is,", Fullness::NAMES);
    "How full the kiln is: full, \"three quarters\", half or quarter.");

pub static PACKED: [Field; 13] = [
    THE_KILN,
    THE_LOAD,
    field!("contents" "contents" Of::Text("") =>
        like("\"cups and plates\"", "what is on the shelves");
        "What is in it, in your own words."),
    field!("lots" "lot" Of::Texts => like("[\"7\"]", "a lot of waiting ware, by its name"), by("lot", "NAME");
        "A lot of waiting ware that went in, by its name. May be given several times."),
    field!("pieces" "pieces" Of::Count => like("40", "how many"), rare();
        "How many pieces are in the load."),
    HOW_FULL,
    field!("worth" "worth" Of::Money =>
        like("350", "in your own money"), within("the worth of the load"), rare();
        "What the load is worth, in your own money."),
    field!("packed_by" "packed by" Of::Text("") => like("\"Anna\"", "who packed it"), rare();
        "Who packed it."),
    field!("cones_stand" "cones stand" Of::Text("") =>
        like("\"middle shelf\"", "where, in your own words"), rare();
        "Where the cones stand, in your own words."),
    TARGET,
    GUIDE,
    GUARD,
    FAMILY,
];

pub static LIT: [Field; 8] = [
    THE_KILN,
    THE_LOAD,
    field!("schedule" "schedule" Of::Schedule =>
        like("\"gold on glazed ware\"", ""), by("schedule", "NAME or FILE");
        "The schedule it follows: the name of a shipped one, or a file."),
    TARGET.needed(),
    GUIDE,
    GUARD,
    FAMILY.needed(),
    field!("plan" "plan" Of::Program(0.0, 525_600.0) => like("[[0, 20], [300, 717]]", "");
        "What that schedule said then, as a list of corner points `[minutes since lit, C]`, each later than the one before, at most 300."),
];

pub static READING: [Field; 1] = [field!("celsius" "temperature" Of::Temperature =>
    needed(), like("712", "712C or 1314F"), within("check the number, and whether it is in C or F"), by("temperature", ""), in_place();
    "The temperature with its unit, for example 712C or 1314F.")];

pub static LOOK: [Field; 3] = [
    field!("target" "target" Of::Letter(SEEN, Seen::NAMES) =>
        missing("No cone is noted yet: press one key for each cone you saw.");
        "What the target cone does: standing, leaning, half or down."),
    field!("guide" "guide" Of::Letter(SEEN, Seen::NAMES);
        "What the guide cone (one cooler) does: standing, leaning, half or down."),
    field!("guard" "guard" Of::Letter(SEEN, Seen::NAMES);
        "What the guard cone (one hotter) does: standing, leaning, half or down."),
];

pub static GLOW: [Field; 2] = [
    field!("colour" "colour" Of::Word("the colour of the glow,", GlowWord::NAMES) =>
        or_else("First say which colour you saw."), in_place();
        "The colour of the chamber, from black red to white, or \"no glow\"."),
    field!("room" "the room is" Of::Word("how light it is around the kiln,", Room::NAMES) =>
        usual("dark");
        "How light it is around the kiln, dark or light: a colour tells less in the light."),
];

pub static TURNED: [Field; 1] = [field!("to" "set to" Of::Text("setting") =>
    or_else(SAY_SOMETHING), like("\"half open\"", "half open, 5 of 10, both burners off"), in_place();
    "The new setting, in your own words, for example \"half open\".")];

pub static NOTE: [Field; 1] = [field!("text" "note" Of::Text("note") =>
    or_else(SAY_SOMETHING), like("\"draught from the door\"", "anything worth knowing next time"), in_place();
    "The remark.")];

pub static PROBE_SILENT: [Field; 1] =
    [field!("reason" "why" Of::Text("") => like("\"the cable came off\"", "");
    "Why nothing is read from here to the next reading.")];

pub static PROBE_CHANGED: [Field; 2] = [
    THE_KILN,
    field!("note" "what" Of::Text("") =>
        like("\"a new one, type K\"", "a new one, type K; moved to the middle");
        "What was done, in your own words, for example \"a new one, type K\"."),
];

pub static KILN_RENAMED: [Field; 2] = [
    THE_KILN,
    field!("name" "new name" Of::Name => needed(), like("\"South\"", "as you call it now"), in_place();
        "What it is called from now on. Its earlier name still finds it."),
];

pub static KILN_RETIRED: [Field; 2] = [
    THE_KILN,
    field!("reason" "why" Of::Text("") => like("\"sold\"", "sold, worn out");
        "Why it is used no more."),
];

pub static KILN_RETURNED: [Field; 1] = [THE_KILN];

pub static KILN_NOTE: [Field; 2] = [
    THE_KILN,
    field!("text" "note" Of::Text("note") =>
        or_else(SAY_SOMETHING), like("\"new elements\"", "new elements, burner cleaned"), in_place();
        "The remark."),
];

pub static ABORTED: [Field; 1] =
    [field!("reason" "why" Of::Text("") => like("\"gas failed\"", "gas ran out, power cut");
    "Why it was given up.")];

const PIECES_ASK: &str = "how many pieces, if you counted";

pub static OUTCOME: [Field; 10] = [
    field!("result" "came out" Of::Letter("result", Verdict::NAMES) =>
        missing("First say whether the load came out under, good or over."), in_place();
        "How the load came out: under, good or over; \"not fired\" where the kiln was given up. May be left out where pieces are counted: good where none is under or over, else the more frequent of the two."),
    field!("note" "note" Of::Text("") =>
        like("\"bright and even\"", "anything worth knowing next time");
        "A remark on it."),
    field!("good" "good" Of::Count => like("52", PIECES_ASK), by("good", "PIECES"), rare();
        "How many pieces came out good."),
    field!("under" "under" Of::Count => like("3", PIECES_ASK), by("under", "PIECES"), rare();
        "How many pieces came out under-fired."),
    field!("over" "over" Of::Count => like("8", PIECES_ASK), by("over", "PIECES"), rare();
        "How many pieces came out over-fired."),
    field!("broken" "broken" Of::Count => like("1", PIECES_ASK), by("broken", "PIECES"), rare();
        "How many pieces are broken or cracked."),
    field!("not_fired" "not fired" Of::Count => like("40", PIECES_ASK), by("not_fired", "PIECES"), rare();
        "How many pieces were not fired, because the kiln was given up."),
    field!("loss" "lost" Of::Money =>
        like("350", "what was lost, in your own money"), within("what was lost"), rare();
        "What was lost, in your own money."),
    field!("shelves" "shelf cone" Of::ShelfCones =>
        like("[{\"place\": \"top\", \"cone\": \"018\", \"seen\": \"down\"}]", "a cone read on a shelf, top left=018:down"), by("shelf", "PLACE=CONE:LEAN"), rare();
        "A cone read on a shelf after unloading, as PLACE=CONE:LEAN, for example \"top left=018:down\". May be given several times."),
    HOW_FULL.rare().is("How full the kiln was: full, \"three quarters\", half or quarter. What lots fill is learned from it."),
];

const ALARM: Field = field!("alarm" "alarm" Of::Alarm => or_else(SAY_ALARM), like("\"look\"", ""), in_place();
    "The alarm, by its name in the list.");

pub static ACKNOWLEDGED: [Field; 1] = [ALARM];

pub static SHELVED: [Field; 2] = [
    ALARM,
    field!("length_min" "for" Of::Length =>
        needed(), like("10", "15 min"), within(LENGTH), by("for", "LENGTH");
        "For how long: 30min, 2h."),
];

pub static STRUCK: [Field; 3] = [
    field!("struck" "event" Of::Event =>
        or_else("First say which event: the number printed when it was saved."), like("17", "the number printed when it was saved"), by("event", ""), in_place();
        "The number of the event, as printed when it was saved; the last one if left out."),
    field!("reason" "why" Of::Text("") => like("\"wrong kiln\"", "entered by mistake");
        "Why it is taken back."),
    field!("corrected_by" "corrected by" Of::Program(0.0, 0.0) => like("21", "");
        "The `id` of the event that stands in its place, where it was corrected. Striking that one brings this one back."),
];

pub static KILN: [Field; 5] = [
    field!("name" "name" Of::Name => needed(), like("\"North\"", "as you call it"), in_place();
        "The kiln's name, for example North."),
    field!("fuel" "fired by" Of::Word("fuel", Fuel::NAMES) => or_else("First choose how it is fired.");
        "How it is fired: gas, electric, wood or oil."),
    field!("litres" "litres" Of::Litres =>
        like("250", "volume of the chamber, if known"), within("the volume of the chamber in litres");
        "The volume of its chamber in litres, for example 250."),
    field!("ceiling_c" "top limit" Of::Temperature =>
        like("1260", "the maker's limit, 1260C or 2300F, if known"), within("the maker's limit in C"), by("ceiling", "");
        "The hottest the maker allows, with its unit, for example 1260C."),
    field!("fastest_climb_c_per_h" "top climb" Of::Rate =>
        like("180", "fastest near the top, like 180C/h"), within("the fastest climb near the top in C/h"), by("fastest_climb", "");
        "The fastest it can climb near the top, with its unit, for example 180C/h."),
];

/// A careful start: half a cone either way, and what is over is lost.
pub static LOAD_TYPE: [Field; 9] = [
    field!("name" "name" Of::Name => needed(), like("\"gold\"", "as you call it"), in_place();
        "Its name, for example gold."),
    field!("cone" "target cone" Of::Cone => needed(), like("\"018\"", "as usual for the load");
        "The cone it goes to, for example 018."),
    field!("cone_family" "cone type" Of::Family => usual("self-supporting"), by("family", "");
        "The type of cone: self-supporting, large, small, or the first two \"iron-free\"."),
    field!("under_cones" "max. under" Of::Cones =>
        usual("0.5"), like("0.5", CONES_ASK), within(FORGIVES), by("under", "CONES");
        "How far under the target the load still comes out right, in cones, for example 0.5."),
    field!("over_cones" "max. over" Of::Cones =>
        usual("0.5"), like("0.5", CONES_ASK), within(FORGIVES), by("over", "CONES");
        "How far over the target the load still comes out right, in cones, for example 0.5."),
    field!("under" "if under" Of::Word(COSTS, Miss::NAMES) =>
        usual("fire_again"), by("if_under", "");
        "What happens to a load that came out further under: fire-again or lost."),
    field!("over" "if over" Of::Word(COSTS, Miss::NAMES) => usual("lost"), by("if_over", "");
        "What happens to a load that came out further over: fire-again or lost."),
    field!("usual_length_min" "usual time" Of::Length =>
        like("300", "from lit to the drop, 5h or 4h30, if known"), within(LENGTH), by("usual_length", "");
        "The usual time from lit to the drop of the cone, for example 5h or 4h30."),
    field!("cautions" "caution" Of::Texts =>
        like("[\"Be at the kiln near the end.\"]", "one more caution, shown when such a load is lit"), by("caution", "");
        "A caution shown when such a load is lit. May be given several times; replaces the old ones."),
];

pub static HOURS: [Field; 4] = [
    field!("days" "days" Of::WeekDays =>
        needed(), like("\"mon-fri\"", "mon-fri, or tue, sat"), in_place();
        "The days of the week, for example mon-fri or \"tue, sat\"."),
    field!("from" "from" Of::TimeOfDay => needed(), like("\"8:00\"", "8:00"), in_place();
        "When the first one comes, by the clock on the wall."),
    field!("to" "to" Of::TimeOfDay => needed(), like("\"17:30\"", "17:30"), in_place();
        "When the last one leaves; midnight is 24:00."),
    field!("people" "people" Of::Count =>
        like("2", "1, how many are there; 0: nobody comes then any more");
        "How many people are there, 1 if left out; 0 where nobody comes on these days any more."),
];

pub static CLOSED: [Field; 3] = [
    field!("from" "closed from" Of::Date =>
        needed(), like("\"2026-12-24\"", "2026-12-24"), in_place();
        "The first day on which nobody is there, for example 2026-12-24."),
    field!("until" "until" Of::Date => like("\"2027-01-02\"", "the last such day, if it is another");
        "The last such day, for example 2027-01-02; the same day if left out."),
    field!("why" "why" Of::Text("") => like("\"holidays\"", "holidays, a fair");
        "Why, in your own words."),
];
