//! The fields of what is noted at the casting bench.

use super::{Field, Of};
use crate::casting::Found;
use crate::closed::Word;

const CODE: Field = field!("mould" "mould" Of::Name =>
    needed(), like("\"A3\"", "the code written on it"), in_place();
    "The code written on the mould.");

const CODES: Field = field!("mould" "mould" Of::Name =>
    needed(), like("\"A3\"", "A3; or several: A1-A4, B7, all but B7"), in_place();
    "The code written on the mould; several in a command, such as A1-A4,B7 or \"all but B7\".");

pub static MOULD: [Field; 8] = [
    CODE,
    field!("parts" "parts" Of::Count => like("2", "in how many parts it comes apart");
        "In how many parts it comes apart."),
    field!("pieces" "pieces" Of::Count => like("1", "how many pieces it makes at once");
        "How many pieces it makes at once."),
    field!("body" "slip" Of::Text("") => like("\"porcelain\"", "the slip it is usually poured with");
        "The slip it is usually poured with."),
    field!("ware" "ware" Of::Text("") => like("\"small jug\"", "what comes out of it");
        "What comes out of it."),
    field!("place" "place" Of::Text("") => like("\"top shelf\"", "where it stands");
        "Where it stands."),
    field!("note" "note" Of::Text("") => like("\"the left half sticks\"", "anything worth knowing");
        "A remark on it."),
    field!("retired" "retired" Of::Text("") =>
        like("\"worn\"", "why it is not poured any more"), rare();
        "Why it is not poured any more."),
];

pub static ROOM: [Field; 2] = [
    field!("celsius" "temperature" Of::RoomTemperature =>
        needed(), like("19.5", "21C or 70F"), within("check the number, it is in C"), by("temperature", ""), in_place();
        "The temperature of the room, for example 21C."),
    field!("rh" "humidity" Of::Humidity =>
        needed(), like("0.58", "58%"), within("write 0.58 for 58 %"), by("humidity", ""), in_place();
        "Its relative humidity, for example 58%; from 0 to 1 in a record."),
];

pub static MOULD_RENAMED: [Field; 2] = [
    CODE,
    field!("name" "new code" Of::Name => needed(), like("\"C1\"", "what is written on it now"), in_place();
        "The code written on it from now on. Its earlier one still finds it."),
];

pub static POURED: [Field; 2] = [
    CODES,
    field!("body" "slip" Of::Text("slip") => needed(), like("\"porcelain\"", "the slip that was poured");
        "The slip that was poured; in a command the mould's usual one if left out."),
];

pub static DRAINED: [Field; 1] = [CODES];

pub static CHECK: [Field; 2] = [
    CODES,
    field!("result" "found" Of::Letter("what a check found,", Found::NAMES) =>
        or_else("First say what you found."), like("\"not_yet\"", ""), in_place();
        "What was found: not_yet, well, forced (it had to be pulled), cracked, or other_crack (for another cause than the hour)."),
];
