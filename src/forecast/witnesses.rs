//! The witnesses of a firing (readings, clock, eyes), and the mixture of what they say.
//!
//! Readings and clock may each tell nothing of today: the probe was exchanged, slips out or stands
//! still, the lighting was noted wrong, the day is like none before. None is ever taken whole.
//! What each of them says counts by the chance that it holds, by how well readings and clock agree,
//! and by how likely it makes what was seen of the cones.

use super::Imagined;
use super::climb::ChamberStates;
use super::known::{Either, Known};
use super::past::CLOCK_FAILS;
use super::sampler::{self, DRAWS_BESIDE, DRAWS_LEADING, LEAST_LOG, Sample, Weighted};
use super::{Declined, Question, seed};

/// How often readings tell nothing of the chamber the cones stand in (a guess: one firing in twenty).
const READINGS_FAIL: f64 = 0.05;
/// How often a probe begins to mislead during a firing, and how often the climb of a kiln changes
/// though nobody turned a burner (guesses).
const BEGIN_TO_MISLEAD: f64 = 0.03;
const KILN_CHANGES: f64 = 0.06;
/// The least chance each witness keeps while no cone was seen to move: what is unlikely must still
/// be found in time.
const LEAST_SHARE: f64 = 0.02;
/// The same for a day quite unlike the plan or the word by which alone its length is known (a guess).
const UNTRIED_SHARE: f64 = 0.15;
/// Below this share what a witness says is not kept.
const NOTHING: f64 = 1e-4;

/// A witness of today's firing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Witness {
    Readings,
    /// Readings until their climb changed, of a probe that misleads since.
    EarlierReadings,
    Clock,
    /// What was seen of the cones alone.
    Eyes,
}

/// What one witness says: possible firings, and its share of the mixture, 0 to 1.
struct Account {
    witness: Witness,
    share: f64,
    firings: Vec<Weighted>,
    /// The chamber by its readings.
    states: Option<ChamberStates>,
}

/// What all witnesses of a firing say; the shares add up to 1.
pub(super) struct Accounts {
    accounts: Vec<Account>,
    /// Of what is seen of the cones alone.
    least_by_eye: f64,
}

impl Accounts {
    /// What each witness says, weighed.
    ///
    /// # Errors
    /// [`Declined::NothingKnown`] when there is neither reading nor clock nor cone to go by.
    pub(super) fn of(known: &Known, question: &Question) -> Result<Accounts, Declined> {
        let mut heard =
            Heard { known, question, seed: seed(&known.evidence), accounts: Vec::new() };
        let sources: Vec<Known> = match known.evidence.sources() {
            0 | 1 => vec![known.clone()],
            count => (0..count).map(|source| known.of_source(source)).collect(),
        };
        let holds = (1.0 - READINGS_FAIL) / sources.len() as f64;
        let mut readings_fail = 1.0;
        for source in &sources {
            if heard.readings(source, holds) {
                readings_fail *= READINGS_FAIL;
            }
        }
        let by_readings = readings_fail < 1.0;
        let by_clock = known.without_readings();
        match by_clock.model(question) {
            Ok((model, _)) => {
                let draws = if by_readings { DRAWS_BESIDE } else { DRAWS_LEADING };
                let sample = sampler::sample(&model, draws, heard.seed);
                heard.take(Witness::Clock, readings_fail * (1.0 - CLOCK_FAILS), sample);
            }
            Err(declined) if !by_readings => return Err(declined),
            Err(_) => {}
        }
        let by_eye = by_clock.without_clock();
        if known.experience.length_known
            && let Ok((model, _)) = by_eye.model(question)
        {
            let sample = sampler::sample(&model, DRAWS_BESIDE, heard.seed);
            heard.take(Witness::Eyes, readings_fail * CLOCK_FAILS, sample);
        }
        let accounts = heard.accounts;
        let most = accounts.iter().map(|(log, _)| *log).fold(f64::NEG_INFINITY, f64::max);
        let sum: f64 = accounts.iter().map(|(log, _)| (log - most).exp()).sum();
        let shared = |(log, account): (f64, Account)| {
            let share = (log - most).exp() / sum;
            Account { share, ..account }
        };
        let untried = !by_readings && !known.experience.length_tried;
        let least_by_eye = if untried { UNTRIED_SHARE } else { 0.0 };
        Ok(Accounts { accounts: accounts.into_iter().map(shared).collect(), least_by_eye })
    }

    /// The chamber by the readings that hold best, where they tell a climb.
    pub(super) fn states(&self) -> Option<ChamberStates> {
        let read = self.accounts.iter().filter(|account| account.states.is_some());
        read.max_by(|a, b| a.share.total_cmp(&b.share))?.states
    }

    /// Whether this witness says anything.
    pub(super) fn has(&self, witness: Witness) -> bool {
        self.accounts.iter().any(|account| account.witness == witness)
    }

    /// The chance that this witness is to be believed, 0 to 1.
    pub(super) fn share(&self, witness: Witness) -> f64 {
        self.accounts.iter().filter(|account| account.witness == witness).map(|a| a.share).sum()
    }

    /// The firings of one witness alone; empty where it says nothing.
    pub(super) fn firings_by(&self, witness: Witness) -> &[Weighted] {
        let found = self.accounts.iter().find(|account| account.witness == witness);
        found.map_or(&[], |account| &account.firings)
    }

    /// The mixture.
    pub(super) fn mixed(&self) -> Vec<Weighted> {
        self.weighted(|account| account.share)
    }

    /// The mixture in which readings and clock each keep a least share, and eyes where the clock rests on
    /// nothing that was tried.
    pub(super) fn with_least_shares(&self) -> Vec<Weighted> {
        self.weighted(|account| match account.witness {
            Witness::EarlierReadings => account.share,
            Witness::Eyes => account.share.max(self.least_by_eye),
            Witness::Readings | Witness::Clock => account.share.max(LEAST_SHARE),
        })
    }

    fn weighted(&self, share: impl Fn(&Account) -> f64) -> Vec<Weighted> {
        let kept = || self.accounts.iter().filter(|account| share(account) > NOTHING);
        let whole: f64 = kept().map(&share).sum();
        kept()
            .flat_map(|account| {
                let part = share(account) / whole;
                account
                    .firings
                    .iter()
                    .map(move |one| Weighted { weight: one.weight * part, firing: one.firing })
            })
            .collect()
    }
}

/// The witnesses that were heard so far: ln of what each says counts like, and what it says.
struct Heard<'a> {
    known: &'a Known,
    question: &'a Question<'a>,
    seed: u64,
    accounts: Vec<(f64, Account)>,
}

impl Heard<'_> {
    fn take(&mut self, witness: Witness, chance: f64, sample: Sample) -> &mut Account {
        let log = (chance.ln() + sample.log_evidence).max(LEAST_LOG);
        let account = Account { witness, share: 0.0, firings: sample.firings, states: None };
        &mut self.accounts.push_mut((log, account)).1
    }

    /// Hears the readings of one source, which hold with this chance, and the earlier ones of them by
    /// themselves; `false` where they tell nothing.
    fn readings(&mut self, source: &Known, holds: f64) -> bool {
        let Ok((model, states)) = source.model(self.question) else { return false };
        if matches!(model, Either::Clock(_)) {
            return false;
        }
        let sample = sampler::sample(&model, DRAWS_LEADING, self.seed);
        let agrees = self.agreement(source, &model, &sample);
        self.take(Witness::Readings, holds * agrees, sample).states = states;
        if let Either::Readings(_) = model
            && let Some((earlier, odds)) = source.before_change()
            && let Ok((model @ Either::Readings(_), _)) = earlier.model(self.question)
        {
            let sample = sampler::sample(&model, DRAWS_BESIDE, self.seed);
            let agrees = self.agreement(&earlier, &model, &sample);
            let misleads = BEGIN_TO_MISLEAD * odds / (1.0 + KILN_CHANGES * odds);
            self.take(Witness::EarlierReadings, misleads * holds * agrees, sample);
        }
        true
    }

    /// How well the clock agrees with what readings say, beside what their model reckons with itself.
    fn agreement(&self, source: &Known, model: &Either, sample: &Sample) -> f64 {
        match model {
            _ if !self.known.experience.length_known => 1.0,
            Either::Readings(readings) if readings.reckons_with_the_clock() => 1.0,
            // It reckons with the usual length itself, up to a constant.
            Either::OneReading(_) => source.before_looks(self.question, self.seed),
            _ => mean(&sample.firings, |imagined| {
                self.known.experience.log_agreement(imagined.drop_h).exp()
            }),
        }
    }
}

fn mean(firings: &[Weighted], value: impl Fn(&Imagined) -> f64) -> f64 {
    firings.iter().map(|one| one.weight * value(&one.firing)).sum()
}
