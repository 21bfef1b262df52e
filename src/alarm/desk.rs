//! Every alarm of the shop, as a fold over the conditions seen and the answers given.
//!
//! For each alarm the desk remembers only when its condition came and went. Where it stands in the
//! standard's state machine is worked out anew from that and from the answers in the journal, so a
//! process that starts in the middle of a firing arrives at the same place as one that was there.

use std::collections::BTreeMap;

use super::condition::{Condition, Figure};
use super::rules::AlarmRule;
use super::state::{AlarmInput, State};
use crate::firing::{FiringId, Kind};
use crate::kiln::Fuel;
use crate::units::{Moment, Span};
use crate::watch::task::Task;

/// One alarm of one firing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Key {
    /// First, so that alarms are in the order of priority.
    pub task: Task,
    pub firing: FiringId,
}

/// What somebody did about an alarm, or about what it is for.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    pub at: Moment,
    pub firing: FiringId,
    pub who: String,
    pub what: Answering,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Answering {
    Acknowledged(Task),
    Shelved(Task, Span),
    /// It was done, and written down as an event of this kind.
    Did(Kind),
}

/// One alarm as it stands now.
#[derive(Debug, Clone, PartialEq)]
pub struct Alarm {
    pub key: Key,
    /// The kiln; where no firing but the shop itself is meant, its file.
    pub kiln: String,
    pub fuel: Option<Fuel>,
    pub state: State,
    /// Since when the condition holds.
    pub since: Moment,
    /// When it was last raised: at first, again after a shelf, or again because nothing was done.
    pub raised: Moment,
    /// Who acknowledged it, if it is acknowledged.
    pub answered: Option<(Moment, String)>,
    /// When a shelved alarm comes back by itself.
    pub shelved_until: Option<Moment>,
    pub figure: Figure,
}

impl Alarm {
    /// What tells it from the same alarm raised at another time.
    pub fn mark(&self) -> String {
        format!("{}-{}-{}", self.key.task.name(), self.key.firing.0, self.raised.0)
    }
}

/// From when its condition came until it is forgotten.
#[derive(Debug, Clone, PartialEq)]
struct Episode {
    kiln: String,
    fuel: Option<Fuel>,
    began: Moment,
    /// When the condition was found gone.
    gone: Option<Moment>,
    /// While another alarm said more: from, and until.
    suppressed: Option<(Moment, Option<Moment>)>,
    figure: Figure,
}

/// All alarms, and what has to be remembered between two moments.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Desk {
    episodes: BTreeMap<Key, Episode>,
    out_of_service: Vec<(String, Task)>,
}

impl Key {
    pub fn rule(self) -> &'static AlarmRule {
        self.task.rule()
    }
}

impl Desk {
    /// Alarms taken out of service by the shop, by kiln and task. Those of the highest priority
    /// stay in service whatever is asked.
    pub fn take_out_of_service(&mut self, out: Vec<(String, Task)>) {
        self.out_of_service = out;
        self.out_of_service.retain(|(_, task)| task.priority().longest_shelf().is_some());
    }

    /// Takes in what holds at `now`, and says how every alarm stands, the most urgent first.
    /// `answers` are all answers to the firings that are open, in the order of time.
    pub fn step(&mut self, findings: &[Condition], answers: &[Answer], now: Moment) -> Vec<Alarm> {
        for finding in findings {
            self.meet(finding, answers, now);
        }
        for (key, episode) in &mut self.episodes {
            let found = findings
                .iter()
                .any(|finding| finding.task == key.task && finding.firing == key.firing);
            if !found {
                episode.gone.get_or_insert(now);
            }
        }
        self.suppress(now);
        let mut standing = Vec::new();
        self.episodes.retain(|key, episode| {
            let taken_out = self
                .out_of_service
                .iter()
                .any(|(kiln, task)| *task == key.task && kiln == &episode.kiln);
            let life = Life::of(*key, episode, answers, taken_out, now);
            let alive = life.state.stands() || episode.gone.is_none();
            if life.state.stands() {
                standing.push(life.alarm(*key, episode));
            }
            alive
        });
        standing
    }

    /// Forgets the alarms of firings that are closed.
    pub fn keep_only(&mut self, open: &[FiringId]) {
        self.episodes.retain(|key, _| open.contains(&key.firing));
    }

    /// A condition holds: its episode goes on, or a new one begins.
    fn meet(&mut self, finding: &Condition, answers: &[Answer], now: Moment) {
        let key = Key { task: finding.task, firing: finding.firing };
        let rule = key.rule();
        let fresh = || Episode {
            kiln: finding.kiln.clone(),
            fuel: finding.fuel,
            began: finding.since,
            gone: None,
            suppressed: None,
            figure: finding.figure.clone(),
        };
        let Some(episode) = self.episodes.get_mut(&key) else {
            if finding.enters {
                self.episodes.insert(key, fresh());
            }
            return;
        };
        // Another mould than those it rang for.
        let is_known = |code: &str| episode.kiln.split(", ").any(|known| known == code);
        let more = key.task.is_of_the_bench() && !finding.kiln.split(", ").all(is_known);
        let returned = more || episode.gone.is_some_and(|gone| now - gone >= rule.off_delay);
        // What was done about it was not enough, or it has come again: that is another alarm.
        let done_before = answers.iter().any(|answer| {
            answer.firing == key.firing
                && matches!(answer.what, Answering::Did(deed) if rule.answered_by.contains(&deed))
                && answer.at >= episode.began
                && answer.at <= finding.since
        }) && finding.since > episode.began;
        if (returned || done_before) && finding.enters {
            *episode = fresh();
        } else if !returned {
            episode.gone = None;
            // The kiln may have another name by now.
            episode.kiln.clone_from(&finding.kiln);
            episode.figure = finding.figure.clone();
        }
    }

    /// Marks which alarms another one makes superfluous.
    fn suppress(&mut self, now: Moment) {
        let stands = |key: Key| {
            let episode = self.episodes.get(&key).filter(|episode| episode.gone.is_none());
            episode.is_some_and(|episode| episode.began + key.rule().on_delay <= now)
        };
        let says_less = |key: &&Key| {
            let by = key.rule().suppressed_by;
            by.iter().any(|task| stands(Key { task: *task, ..**key }))
        };
        let suppressed: Vec<Key> = self.episodes.keys().filter(says_less).copied().collect();
        for (key, episode) in &mut self.episodes {
            match (&mut episode.suppressed, suppressed.contains(key)) {
                (Some((_, until @ None)), false) => *until = Some(now),
                (Some((_, None)), true) | (None | Some((_, Some(_))), false) => {}
                (slot, true) => *slot = Some((now, None)),
            }
        }
    }
}

/// One alarm's way through the state machine, from its beginning to now.
struct Life {
    state: State,
    latching: bool,
    raised: Moment,
    answered: Option<(Moment, String)>,
    shelved_until: Option<Moment>,
}

/// Something on the alarm's line of time.
enum Step<'a> {
    AlarmInput(AlarmInput),
    Answer(&'a Answer),
}

impl Life {
    fn of(key: Key, episode: &Episode, answers: &[Answer], taken_out: bool, now: Moment) -> Life {
        let rule = key.rule();
        let raised = episode.began + rule.on_delay;
        let mut life = Life {
            state: State::Normal,
            latching: rule.latching,
            raised,
            answered: None,
            shelved_until: None,
        };
        // A condition that was gone before its delay was over has never been an alarm.
        if raised > now || episode.gone.is_some_and(|gone| gone < raised) {
            return life;
        }
        for (at, step) in timeline(key, episode, answers, raised, now) {
            life.run_timers(rule, episode, at);
            match step {
                Step::AlarmInput(input) => life.take(input, at),
                Step::Answer(answer) => life.hear(rule, answer),
            }
        }
        life.run_timers(rule, episode, now);
        if taken_out {
            life.take(AlarmInput::TakeOut, now);
        }
        life
    }

    fn take(&mut self, input: AlarmInput, at: Moment) {
        let Some(next) = self.state.after(input, self.latching) else { return };
        if next == State::Unacknowledged {
            self.raised = at;
            self.answered = None;
        }
        self.state = next;
    }

    fn hear(&mut self, rule: &AlarmRule, answer: &Answer) {
        match answer.what {
            Answering::Shelved(_, length) => {
                let Some(longest) = rule.priority.longest_shelf() else { return };
                self.take(AlarmInput::Shelve, answer.at);
                if self.state == State::Shelved {
                    self.shelved_until = Some(answer.at + length.min(longest));
                }
            }
            Answering::Acknowledged(_) if self.state == State::LatchedAcknowledged => {
                self.take(AlarmInput::Reset, answer.at);
            }
            Answering::Acknowledged(_) | Answering::Did(_) => {
                self.take(AlarmInput::Acknowledge, answer.at);
                if matches!(self.state, State::Acknowledged | State::LatchedAcknowledged) {
                    self.answered.get_or_insert((answer.at, answer.who.clone()));
                }
            }
        }
    }

    /// What happens by the clock alone, up to `until`.
    fn run_timers(&mut self, rule: &AlarmRule, episode: &Episode, until: Moment) {
        if let Some(end) = self.shelved_until.filter(|end| *end <= until) {
            let active = episode.gone.is_none_or(|gone| gone + rule.off_delay > end);
            self.take(AlarmInput::Back { active }, end);
            self.shelved_until = None;
        }
        if let (State::Acknowledged, Some(after), Some((at, _))) =
            (self.state, rule.raised_again_after, &self.answered)
            && *at + after <= until
        {
            let again = *at + after;
            self.take(AlarmInput::RaiseAgain, again);
        }
    }

    fn alarm(self, key: Key, episode: &Episode) -> Alarm {
        Alarm {
            key,
            kiln: episode.kiln.clone(),
            fuel: episode.fuel,
            state: self.state,
            since: episode.began,
            raised: self.raised,
            answered: self.answered,
            shelved_until: self.shelved_until,
            figure: episode.figure.clone(),
        }
    }
}

/// Everything that happened to one alarm from when it was raised, in the order of time.
fn timeline<'a>(
    key: Key,
    episode: &Episode,
    answers: &'a [Answer],
    raised: Moment,
    now: Moment,
) -> Vec<(Moment, Step<'a>)> {
    let rule = key.rule();
    let mut steps = vec![(raised, Step::AlarmInput(AlarmInput::Occurs))];
    let meant = |what: Answering| match what {
        Answering::Acknowledged(task) | Answering::Shelved(task, _) => task == key.task,
        Answering::Did(deed) => rule.answered_by.contains(&deed),
    };
    let heard = answers.iter().filter(|answer| {
        answer.firing == key.firing && answer.at >= raised && answer.at <= now && meant(answer.what)
    });
    steps.extend(heard.map(|answer| (answer.at, Step::Answer(answer))));
    if let Some((from, until)) = episode.suppressed {
        steps.push((from.max(raised), Step::AlarmInput(AlarmInput::Suppress)));
        if let Some(until) = until.filter(|until| *until <= now) {
            let active = episode.gone.is_none_or(|gone| gone + rule.off_delay > until);
            steps.push((until.max(raised), Step::AlarmInput(AlarmInput::Back { active })));
        }
    }
    let returned = episode.gone.map(|gone| gone + rule.off_delay).filter(|at| *at <= now);
    steps.extend(returned.map(|at| (at, Step::AlarmInput(AlarmInput::Returns))));
    // The sort is stable: of two things at one moment, the one listed first comes first.
    steps.sort_by_key(|(at, _)| *at);
    steps
}
