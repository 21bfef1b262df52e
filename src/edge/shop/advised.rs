//! The advice on a shop's burning firings, made once for everybody in a process who wants it: the
//! screen and the keeper beside it.

use std::panic::resume_unwind;
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;

use crate::edge::house_file::House;
use crate::edge::journal::past::Past;
use crate::edge::journal::{Journal, JournalError, PAST_FIRINGS, UnreadEvents};
use crate::edge::shipped_schedules;
use crate::firing::{Firing, FiringId, Shop};
use crate::scene::{Floor, advices};
use crate::units::{Moment, Span};
use crate::watch::Advice;

/// Advice older than this is made anew, even if nothing was written.
const AGE: Span = Span::seconds(20);
/// The same while all is calm, and where time runs fast.
pub const CALM_AGE: Span = Span::minutes(1);
/// Where no look is due within this, all is calm.
const CALM: Span = Span::hours(1);

/// The advice for every firing that burns, held once however many show it.
pub type Advices = Arc<Vec<(FiringId, Advice)>>;

/// Advice, and when it was made.
#[derive(Debug, Clone, Default)]
pub struct Advised {
    pub at: Moment,
    pub advices: Advices,
}

/// The advice on this shop by what its journal knows of the past, for somebody who asks once.
///
/// # Errors
/// When the past firings cannot be read.
pub fn advised(
    journal: &Journal,
    shop: &Shop,
    now: Moment,
) -> Result<Vec<(FiringId, Advice)>, JournalError> {
    let hot = shop.open.iter().any(|firing| firing.burns() || firing.cools());
    let past = if hot { journal.past(PAST_FIRINGS)? } else { Vec::new() };
    Ok(advices(shop, &past, shipped_schedules::plan, now))
}

/// Whether nothing that burns is to be looked at within the hour: nothing is to be hurried then.
pub fn is_calm(shop: &Shop, advices: &Advices, now: Moment) -> bool {
    let is_far = |look: Option<Moment>| look.is_some_and(|look| look - now > CALM);
    let mut burning = shop.open.iter().filter(|firing| firing.burns());
    burning.all(|one| advices.iter().any(|(of, advice)| *of == one.id && is_far(advice.next_look)))
}

/// How old this advice may become.
pub fn age(shop: &Shop, advices: &Advices, now: Moment) -> Span {
    if is_calm(shop, advices, now) { CALM_AGE } else { AGE }
}

/// What is known of one shop beside its open firings, in whatever file it goes on. Its clones share it.
#[derive(Debug, Clone, Default)]
pub struct Counsel {
    past: Past,
    /// What could not be read, whoever of them met it.
    unread: UnreadEvents,
    made: Arc<Mutex<Option<Made>>>,
}

#[derive(Debug)]
struct Made {
    /// Advice follows from the shop, and from how its past firings went.
    of: Arc<Shop>,
    advised: Advised,
}

impl Counsel {
    /// Where a journal on the same file notes what it cannot read.
    pub fn unread(&self) -> &UnreadEvents {
        &self.unread
    }

    /// Forgets what was read, for whoever shares it as well: the shop goes on in another file.
    pub fn forget(&self) {
        *self.made.lock().unwrap_or_else(PoisonError::into_inner) = None;
        self.past.forget();
        self.unread.take();
    }

    /// The advice on this shop at `now`; if another asked the same and that is not old, what was made
    /// then. Whoever asks while it is being made waits for it. `read` reads the past firings.
    ///
    /// # Errors
    /// Whatever kept the past firings from being read.
    pub fn on(
        &self,
        shop: &Arc<Shop>,
        read: impl FnOnce(&Past) -> anyhow::Result<Arc<Vec<Firing>>>,
        now: Moment,
    ) -> anyhow::Result<Advised> {
        // Whoever broke off left it whole: it changes in one step, when all is made.
        let mut made = self.made.lock().unwrap_or_else(PoisonError::into_inner);
        let fresh = |made: &&Made| {
            let Advised { at, advices } = &made.advised;
            let young = (Span::ZERO..age(shop, advices, now)).contains(&(now - *at));
            young && made.of == *shop
        };
        if let Some(made) = made.as_ref().filter(fresh) {
            return Ok(made.advised.clone());
        }
        let past = read(&self.past)?;
        let advices = Arc::new(apart(&|| advices(shop, &past, shipped_schedules::plan, now)));
        let advised = Advised { at: now, advices };
        *made = Some(Made { of: Arc::clone(shop), advised: advised.clone() });
        Ok(advised)
    }
}

/// Has this done by a thread that ends with it. A forecast takes some megabytes for a moment, and the system
/// keeps what a thread has let go of for its next need: of screen, keeper and page each would hold them.
fn apart<T: Send>(work: &(dyn Fn() -> T + Sync)) -> T {
    thread::scope(|scope| match thread::Builder::new().spawn_scoped(scope, work) {
        Ok(done) => done.join().unwrap_or_else(|panic| resume_unwind(panic)),
        // Where there is no thread to be had, it is done here.
        Err(_) => work(),
    })
}

/// The shop in this journal, with the advice for what is alight.
///
/// # Errors
/// When the file cannot be read.
pub fn snapshot(journal: &Journal, now: Moment) -> anyhow::Result<Floor> {
    let shop = Arc::new(journal.shop()?);
    let advices = Arc::new(advised(journal, &shop, now)?);
    let draw_below = House::or_usual(journal.path()).draw_below;
    let unread = journal.unread().list();
    Ok(Floor { shop, advices, draw_below, unread, ..Floor::default() })
}
