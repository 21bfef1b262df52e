//! Every sentence a person reads, from values to text.
//!
//! Plain ASCII throughout, so that the same words go to a screen, a printer, a page or a speech
//! synthesiser. Nothing here asks what time it is or which zone the shop is in: a [`Dial`] says.

pub mod alarms;
mod asked_again;
pub mod asks;
mod casting;
mod cautions;
mod changes;
mod dial;
mod doubt;
mod forms;
mod hours;
mod kiln;
mod ledger;
mod lengths;
mod lessons;
mod misfit;
mod own_record;
mod page;
mod plan;
mod port;
mod rehearsal;
mod review;
mod safety;
mod said;
mod schedules;
mod shop;
mod steps;
mod story;
mod task;
mod typed;
mod unread;
mod views;
mod ware;

pub use alarms::{cannot_be_put_off, ringing_line};
pub use asked_again::*;
pub use casting::*;
pub use cautions::{caution, last_hundred, load_caution};
pub use changes::{News, changes, standings};
pub use dial::{Clock, Dial, FixedZone, Zone};
pub use doubt::{Striking, ask_of_look, doubt, drop_sentences, look_of};
pub use forms::*;
pub use hours::{closed_line, hours_line, limits_line, turned};
pub use kiln::*;
pub use ledger::*;
pub use lengths::*;
pub use lessons::{
    CAST_DUE, CAST_LESSON_ENDED, Lesson, LessonEnd, LessonSoFar, lesson_closing, lesson_ended,
    lesson_left,
};
pub use misfit::{misfit, not_believed, read_again, strike_misfit};
pub use own_record::*;
pub use page::*;
pub use plan::{
    Deed, NOTHING_PLANNED, NOTHING_TOUCHES, NextDeed, PlanTold, SHEET_COLUMNS, STEPS, SheetRow,
    cones_of, deed_line, drawing_list, no_choice, not_planned, plan_phrase, taken,
};
pub use port::*;
pub use rehearsal::{
    COLLEAGUE, MADE_UP, Mishap, came_out, load_shows, made_up, mishap, misjudged, prompt,
    prompt_text, rehearsal_ended, spyhole_shows,
};
pub use review::*;
pub use safety::*;
pub use said::*;
pub use schedules::*;
pub use shop::*;
pub use steps::{NamedKeys, impossible};
pub use story::*;
pub use task::{
    COMING_TITLE, NOTHING_COMING, agenda_line, bench_afar, big_caption, big_text, big_word,
    calendar_description, calendar_summary, far_phrase, large_when_idle, say_short,
};
pub use typed::{Meant, TimeError, read_ahead, read_past, read_time, read_time_of_day};
pub use unread::{left_out_and_remedy, left_out_in_brief, left_out_of};
pub use views::*;
pub use ware::*;
