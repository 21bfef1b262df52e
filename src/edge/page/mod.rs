//! The page: every phone, tablet and old computer in the shop is a screen and a bell.
//!
//! Whoever holds the watch serves it, on plain http in the shop's own network, once it is switched on. It
//! is drawn from the same scene and the same words as the terminal, and whatever goes wrong here is no
//! trouble of the watch: it goes by what the keeper shows, and nothing of the keeper waits for it.
//!
//! ```text
//! keeper --shows--> clerk (one thread, has the journal) --picture--> server (one thread) <--> devices
//!                     ^------------------- jobs, a short queue ---------'
//! ```
//!
//! Reading order: [`command`] (switching it on, the code, the PIN), [`codes`], [`pin`], [`address`], [`clerk`]
//! (what is to be seen, and what is written) with [`sent`] and [`noting`], [`server`] (connections), [`gate`]
//! (what is turned away before anything else), [`routes`] with [`beside`] (what is read as it is asked for),
//! [`stream`], [`views`] with [`forms`], [`earlier`], [`bench`], [`ways`], [`asking`], [`html`] and [`chart`].

mod address;
mod asking;
mod bench;
mod beside;
mod chart;
mod clerk;
mod codes;
pub mod command;
mod earlier;
mod forms;
mod gate;
mod html;
mod noting;
mod offered;
mod pin;
pub mod routes;
mod sent;
mod server;
mod stream;
mod views;
mod ways;

use std::io;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;

use crate::edge::shop::advised::Counsel;
use crate::edge::shop::watched::Shown;
use clerk::Clerk;

/// The port, where nobody says another.
const USUAL_PORT: u16 = 8766;

/// The page of one shop, served while it is switched on and the watch beside it holds the right to ring.
#[derive(Debug)]
pub struct Page {
    stop: Arc<AtomicBool>,
}

impl Page {
    /// Goes by what is `shown` of the watch, and by the same advice, until it is dropped.
    ///
    /// # Errors
    /// When the system has no thread to give.
    pub fn beside(shop: &Path, counsel: Counsel, shown: Shown) -> io::Result<Page> {
        let stop = Arc::new(AtomicBool::new(false));
        let mut clerk = Clerk::new(shop.to_owned(), counsel, shown);
        let stopped = Arc::clone(&stop);
        thread::Builder::new().name("page".into()).spawn(move || {
            while !stopped.load(Ordering::Relaxed) {
                clerk.step();
            }
        })?;
        Ok(Page { stop })
    }
}

impl Drop for Page {
    /// It ends at its next step; a disk that hangs is not waited for.
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
    }
}
