//! Every sentence a person reads, from values to text.
//!
//! Plain ASCII throughout, so that the same words go to a screen, a printer, a page or a speech
//! synthesiser. Nothing here asks what time it is or which zone the shop is in: a [`Dial`] says.

mod coming;
mod dial;
mod forms;
mod kiln;
mod port;
mod rehearsal;
mod typed;

pub use coming::*;
pub use dial::{Clock, Dial, FixedZone, WallTime, Zone};
pub use forms::*;
pub use kiln::*;
pub use port::*;
pub use rehearsal::{
    Lesson, LessonKeys, lesson, load_shows, rehearsal_ended, scale_of_time, spyhole_shows,
};
pub use typed::{TypedTimeError, read_time};
