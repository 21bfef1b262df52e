//! The fields of ware that waits, and of the plan that the shop goes by.

use super::{Field, Of, SAY_LOAD};
use crate::closed::Word as _;
use crate::plan::limits::Counts;

/// A lot that is ready later is so as the morning begins, and one that is wanted as the day ends.
const MORNING: u32 = 8;
const EVENING: u32 = 17;

pub static LOT: [Field; 12] = [
    field!("load_type" "load" Of::LoadType =>
        or_else(SAY_LOAD), like("\"glaze\"", ""), by("load_type", "TYPE"), in_place();
        "The load type it waits for, for example stoneware glaze."),
    field!("lot" "name" Of::Name => needed(), like("\"7\"", "as you call it"), by("name", "NAME");
        "What it is called; the next free number if left out. A name that is known changes what was said of that lot."),
    field!("contents" "contents" Of::Text("") =>
        like("\"tall mugs\"", "what it is");
        "What it is, in your own words."),
    field!("pieces" "pieces" Of::Count => like("24", "how many, if you counted");
        "How many pieces."),
    field!("fills" "fills" Of::Share =>
        like("0.5", "half, a third, 35 %"), within("the share of the kiln that the lot takes");
        "How much of a kiln it fills: half, a third, 35%."),
    field!("of_kiln" "of" Of::Name => like("\"North\"", ""), by("of", "KILN");
        "The kiln that is meant by how much it fills, for example North."),
    field!("wanted" "wanted by" Of::Ahead(EVENING) =>
        like("\"2026-03-14T16:00:00+00:00\"", "Friday, 2026-12-04, tomorrow 14:00"), by("wanted", "TIME");
        "When it is wanted: Friday, 2026-12-04, \"tomorrow 14:00\"; a day alone means its evening."),
    field!("ready" "ready from" Of::Ahead(MORNING) =>
        like("\"2026-03-14T07:00:00+00:00\"", "now, or tomorrow, Friday 14:00"), by("ready", "TIME");
        "From when it can be packed, if not now: tomorrow, \"Friday 14:00\"; a day alone means its morning."),
    field!("worth" "worth each" Of::Money =>
        like("6", "for one piece, in your own money"), within("the worth of a piece"), rare();
        "What one piece is worth, in your own money."),
    field!("gold_g" "gold in g" Of::Grams =>
        like("3.5", "3.5; or the bottle before and after, 48.2-44.7"), within("the gold on the lot in grams"), by("gold", "GRAMS"), rare();
        "How much gold is on all of it, in grams: 3.5, or the bottle before and after, 48.2-44.7."),
    field!("decals" "decals" Of::Count => like("24", "how many, on all of it"), rare();
        "How many decals are on all of it."),
    field!("then" "then" Of::Texts => like("[\"gold\"]", "the load type after this one"), by("then", "TYPE"), rare();
        "The load type it goes to after this one. May be given several times, in order; bisque goes to the glaze of the same name without it."),
];

/// The keys of each of its lists.
pub static LIGHT_AT: Field =
    Field::new("light_at", "", Of::Program(0.0, 0.0)).like("\"2026-03-14T08:30:00+00:00\"", "");
pub static PACK_FROM: Field = Field { key: "pack_from", ..LIGHT_AT };
pub static DRAW_FROM: Field = Field { key: "draw_from", ..LIGHT_AT };

pub static PLANNED: [Field; 3] = [
    field!("firings" "firings" Of::Program(0.0, 0.0) =>
        like("[{\"kiln\": \"North\", \"load_type\": \"glaze\", \"lots\": [\"7\"], \"pack_from\": \"2026-03-14T07:50:00+00:00\", \"light_at\": \"2026-03-14T08:30:00+00:00\", \"draw_from\": \"2026-03-15T09:00:00+00:00\"}]", "");
        "What is to be fired: a list of objects with `kiln`, `load_type`, `lots`, `pack_from`, `light_at`, `draw_from`, and `kept`, true where somebody chose to keep it as it is."),
    field!("waiting" "waiting" Of::Program(0.0, 0.0) =>
        like("[{\"lot\": \"7\", \"load_type\": \"glaze\"}]", "");
        "The lots that were left waiting: objects with `lot` and `load_type`."),
    field!("barred" "barred" Of::Program(0.0, 0.0) =>
        like("[{\"lot\": \"7\", \"load_type\": \"glaze\", \"kiln\": \"North\"}]", "");
        "The lots that somebody chose not to have in a kiln, or in none where `kiln` is left out: objects with `lot`, `load_type` and `kiln`."),
];

const COUNTS: Of = Of::Word("how much that counts,", Counts::NAMES);

/// What is said of a sentence of the shop begins with it.
pub static LIMITS: [Field; 10] = [
    field!("gas_kilns" "gas kilns" Of::Count => like("2", "how many may climb at once, if not all");
        "How many gas kilns may climb at once, if not all."),
    field!("power_kw" "power in kW" Of::Kilowatts =>
        like("24.5", "what the house gives at once, if not enough for all"), within("the power of the house in kW"), by("power", "KW");
        "What power the house gives at once, in kW, if it is not enough for all kilns."),
    field!("cheap_from" "cheap from" Of::TimeOfDay => like("\"22:00\"", "22:00, where power is cheaper at night");
        "From when on power is cheaper, by the clock on the wall."),
    field!("cheap_to" "cheap to" Of::TimeOfDay => like("\"6:00\"", "6:00");
        "Until when power is cheaper."),
    field!("cheap_price" "cheap kWh" Of::Money =>
        like("0.19", "what it costs then, in your own money"), within("the price of a kWh");
        "What a kWh costs then, in your own money."),
    field!("on_time" "on time" COUNTS => like("\"more\"", "");
        "I would rather fire a kiln half full than have ware late: less, usual or more."),
    field!("at_once" "at once" COUNTS => like("\"less\"", "");
        "I would rather fire today than let ware wait: less, usual or more."),
    field!("apart" "apart" COUNTS => like("\"more\"", "");
        "I would rather wait a day than meet two watches: less, usual or more."),
    field!("attended" "attended" COUNTS => like("\"more\"", "");
        "I would rather wait a day than have nobody there at a drop: less, usual or more."),
    field!("full" "full kilns" COUNTS => like("\"less\"", "");
        "I would rather wait for a full kiln than light one more: less, usual or more."),
];
