//! The search for a cheap plan: annealing, several starts, a count of judgements instead of a clock.

use rand::RngExt as _;
use rand::SeedableRng as _;
use rand_pcg::Pcg64Mcg;

use super::decode::{decode, tidied};
use super::moves::change;
use super::{Judged, Plan, Tables};

/// How long to look. Several short runs find better plans than a long one.
#[derive(Debug, Clone, Copy)]
pub struct Effort {
    pub starts: u32,
    /// Plans judged in each start.
    pub judgements: u32,
}

impl Effort {
    /// What an ordinary plan is given: the more lots, the longer, up to thirty of them. A judgement of twenty
    /// lots in five days takes about 4 us on one core, of forty 8, of sixty 11, on a busy machine; its time grows
    /// with the firings. So a plan takes one to four seconds.
    pub fn usual(lots: usize) -> Effort {
        let judgements = (3_000 * lots as u32).clamp(30_000, 90_000);
        Effort { starts: 4, judgements }
    }
}

/// What a broken rule costs the search, EUR: so much each, and so much more the worse it is broken.
const BROKEN_EUR: f64 = 200.0;
const BROKEN_SIZE_EUR: f64 = 400.0;

/// The temperatures between which it cools, EUR.
pub const RANGE: (f64, f64) = (30.0, 0.5);

/// The best plan found, and how many were judged.
#[derive(Debug)]
pub struct Found {
    pub plan: Plan,
    pub tried: u32,
}

/// The cheapest plan found that goes on from what is begun and breaks no rule that this does not break already;
/// at worst nothing more is fired.
pub fn search(tables: &Tables, begun: &Plan, effort: Effort) -> Found {
    let mut all = Search::new(tables, tables.instance.seed(), &|_| 0.0);
    all.given = all.price(&mut begun.clone()).0;
    let mut best = all.begin(begun);
    for _ in 0..effort.starts {
        let found = all.anneal(begun, RANGE, effort.judgements);
        if found.0 < best.0 {
            best = found;
        }
    }
    let mut plan = best.1;
    plan.sort();
    Found { plan, tried: all.tried }
}

/// How many rules a plan breaks, and what it costs with them, EUR.
pub type Rank = (usize, f64);

/// One search, with the room it works in.
pub(super) struct Search<'a> {
    pub tables: &'a Tables,
    pub random: Pcg64Mcg,
    /// What a plan costs besides, EUR.
    besides: &'a dyn Fn(&Plan) -> f64,
    pub tried: u32,
    /// How many rules may be broken, since what is begun breaks so many.
    pub given: usize,
}

impl<'a> Search<'a> {
    pub fn new(tables: &'a Tables, seed: u64, besides: &'a dyn Fn(&Plan) -> f64) -> Search<'a> {
        Search { tables, random: Pcg64Mcg::seed_from_u64(seed), besides, tried: 0, given: 0 }
    }

    pub fn price(&mut self, plan: &mut Plan) -> Rank {
        self.priced(plan, false)
    }

    fn priced(&mut self, plan: &mut Plan, put_off: bool) -> Rank {
        self.tried += 1;
        decode(self.tables, plan, put_off);
        let Judged { broken, costs } = Judged::of(self.tables, plan);
        let penalty: f64 = broken.iter().map(|(size, _)| BROKEN_EUR + BROKEN_SIZE_EUR * size).sum();
        (broken.len(), costs.total() + penalty + (self.besides)(plan))
    }

    /// A plan with its price, which is infinite where it breaks more rules than it may.
    pub fn begin(&mut self, plan: &Plan) -> (f64, Plan) {
        let mut plan = plan.clone();
        let (broken, price) = self.price(&mut plan);
        (if broken > self.given { f64::INFINITY } else { price }, plan)
    }

    /// Cools from one plan; the cheapest seen that breaks no more rules than it may.
    pub fn anneal(&mut self, from: &Plan, (hot, cold): (f64, f64), judgements: u32) -> (f64, Plan) {
        let mut now = from.clone();
        let mut price = self.price(&mut now).1;
        let mut best = self.begin(from);
        let mut next = now.clone();
        let first = self.tried;
        while self.tried - first < judgements {
            let done = f64::from(self.tried - first) / f64::from(judgements);
            let temperature = hot * (cold / hot).powf(done);
            next.firings.clone_from(&now.firings);
            next.lot_in.clone_from(&now.lot_in);
            if !change(self, &mut next) {
                self.tried += 1;
                continue;
            }
            tidied(self.tables, &mut next);
            let (broken, asked) = self.priced(&mut next, true);
            if asked <= price || self.random.random::<f64>() < ((price - asked) / temperature).exp()
            {
                std::mem::swap(&mut now, &mut next);
                price = asked;
                if broken <= self.given && price < best.0 - 1e-9 {
                    best.0 = price;
                    best.1.clone_from(&now);
                }
            }
        }
        best
    }
}
