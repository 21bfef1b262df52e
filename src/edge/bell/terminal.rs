//! The terminal's own bell, and a flash of the whole screen where there is one.

use std::fmt;
use std::io::Write;
use std::sync::mpsc::{self, Sender};
use std::time::Duration;

use super::{Ring, Way, WayError};
use crate::alarm::WayName;

/// ASCII BEL.
const BEL: &[u8] = b"\x07";

/// How long a screen may take until it has rung its terminal; it looks every few seconds.
const FLASHES_WITHIN: Duration = Duration::from_secs(5);

/// What a screen answers a ring with, once its terminal has taken the bell.
pub type Receipt = Sender<()>;

/// Rings the bell of a terminal. The screen that owns the terminal hears of every ring and
/// flashes; a ring it could not show is not delivered.
pub struct Terminal {
    out: Option<Box<dyn Write + Send>>,
    flash: Option<Sender<Receipt>>,
}

impl fmt::Debug for Terminal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Terminal")
            .field("out", &self.out.is_some())
            .field("flash", &self.flash.is_some())
            .finish()
    }
}

impl Terminal {
    /// `out` is the terminal, if the process has one; `flash` is told of every ring.
    pub fn new(out: Option<Box<dyn Write + Send>>, flash: Option<Sender<Receipt>>) -> Terminal {
        Terminal { out, flash }
    }
}

impl Way for Terminal {
    fn name(&self) -> WayName {
        WayName::Terminal
    }

    fn limit(&self) -> Duration {
        FLASHES_WITHIN + Duration::from_secs(2)
    }

    fn ring(&mut self, _: &Ring) -> Result<String, WayError> {
        let flashes = self.flash.as_ref().is_some_and(|flash| {
            let (receipt, shown) = mpsc::channel();
            flash.send(receipt).is_ok() && shown.recv_timeout(FLASHES_WITHIN).is_ok()
        });
        let Some(out) = &mut self.out else {
            return if flashes {
                Ok("flash".into())
            } else if self.flash.is_some() {
                let reason = "it takes nothing that is written to it";
                Err(WayError::failed("the screen's terminal", reason))
            } else {
                Err(WayError::Missing {
                    what: "a terminal".into(),
                    remedy: "ring by another way, or keep watch in a terminal".into(),
                })
            };
        };
        let rung = out.write_all(BEL).and_then(|()| out.flush());
        match rung {
            Ok(()) => Ok(if flashes { "bell and flash".into() } else { "bell".into() }),
            Err(error) => Err(WayError::failed("the terminal", error)),
        }
    }
}
