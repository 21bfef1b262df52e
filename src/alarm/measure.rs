//! The alarms measured against the standard's own benchmarks.
//!
//! Figures after ANSI/ISA-18.2 and IEC 62682 (per person who minds the kilns, over at least 30
//! days) and EEMUA 191. What is counted is alarms raised; repeats of the same ring are not new
//! alarms. The chatter criterion is ISA-TR18.2.5's, as remembered.

use std::collections::BTreeMap;

use super::desk::Key;
use super::priority::Priority;
use crate::units::{Moment, Span};

const TEN_MINUTES: Span = Span::minutes(10);
const HOUR: Span = Span::hours(1);
const DAY: Span = Span::hours(24);
/// So often raised within [`CHATTER_WITHIN`], an alarm chatters.
const CHATTER_TIMES: usize = 3;
const CHATTER_WITHIN: Span = Span::minutes(1);
/// Standing for longer than this, an alarm is stale.
const STALE_AFTER: Span = DAY;
/// A shorter period than this says little.
pub const ENOUGH: Span = Span::hours(30 * 24);

/// One alarm from being raised to being over.
#[derive(Debug, Clone, PartialEq)]
pub struct Occurrence {
    pub key: Key,
    pub raised: Moment,
    pub answered: Option<Moment>,
    /// When its condition was gone.
    pub returned: Option<Moment>,
}

/// What was measured over a period.
#[derive(Debug, Clone, PartialEq)]
pub struct Measures {
    pub from: Moment,
    pub to: Moment,
    /// How much of the period a kiln was lit; averages are over this.
    pub lit: Span,
    pub alarms: usize,
    pub per_day: f64,
    pub per_hour: f64,
    pub per_ten_minutes: f64,
    pub most_in_ten_minutes: usize,
    /// Shares of ten-minute periods with more than 10 alarms, and of hours with more than 30.
    pub busy_ten_minutes: f64,
    pub busy_hours: f64,
    /// Share of the time in flood.
    pub flooded: f64,
    /// Alarms of each priority, most urgent first.
    pub by_priority: [usize; 4],
    /// Alarms that had an answer within the time to respond, of those whose time was over or that
    /// were answered.
    pub answered_in_time: (usize, usize),
    /// Alarms that were raised three times or more within a minute.
    pub chattering: Vec<Key>,
    /// The most alarms that stood for longer than a day at once.
    pub stale: usize,
}

/// How a measure compares with the standard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Grade {
    /// Very likely acceptable.
    Acceptable,
    /// At most manageable.
    Manageable,
    TooMany,
}

/// One benchmark: what is measured, and the standard's two limits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Benchmark {
    pub what: &'static str,
    pub acceptable: f64,
    pub manageable: f64,
    pub source: &'static str,
}

const ISA: &str = "ANSI/ISA-18.2";
const IEC: &str = "IEC 62682";

pub const BENCHMARKS: [Benchmark; 9] = [
    benchmark("alarms per day", 144.0, 288.0, IEC),
    benchmark("alarms per hour", 6.0, 12.0, IEC),
    benchmark("alarms per 10 minutes", 1.0, 2.0, "IEC 62682, EEMUA 191"),
    benchmark("most in any 10 minutes", 10.0, 10.0, ISA),
    benchmark("10-minute periods with more than 10, in 100", 1.0, 1.0, ISA),
    benchmark("hours with more than 30, in 100", 1.0, 1.0, ISA),
    benchmark("time in flood, in 100", 1.0, 1.0, ISA),
    benchmark("chattering alarms", 0.0, 0.0, "ANSI/ISA-18.2; criterion ISA-TR18.2.5, from memory"),
    benchmark("stale alarms on any day", 4.0, 4.0, ISA),
];

const fn benchmark(
    what: &'static str,
    acceptable: f64,
    manageable: f64,
    source: &'static str,
) -> Benchmark {
    Benchmark { what, acceptable, manageable, source }
}

impl Benchmark {
    pub fn grade(&self, measured: f64) -> Grade {
        if measured <= self.acceptable {
            Grade::Acceptable
        } else if measured <= self.manageable {
            Grade::Manageable
        } else {
            Grade::TooMany
        }
    }
}

impl Measures {
    /// Measures the alarms raised in a period, `lit` of which a kiln was lit.
    pub fn of(occurrences: &[Occurrence], from: Moment, to: Moment, lit: Span) -> Measures {
        let within = |occurrence: &&Occurrence| occurrence.raised >= from && occurrence.raised < to;
        let raised: Vec<&Occurrence> = occurrences.iter().filter(within).collect();
        let mut times: Vec<Moment> = raised.iter().map(|occurrence| occurrence.raised).collect();
        times.sort_unstable();
        let lit = if lit > Span::ZERO { lit } else { to - from };
        let per = |span: Span| times.len() as f64 * (span.0 as f64 / lit.0.max(1) as f64);
        let mut by_priority = [0; 4];
        for occurrence in &raised {
            by_priority[occurrence.key.task.priority() as usize] += 1;
        }
        Measures {
            from,
            to,
            lit,
            alarms: times.len(),
            per_day: per(DAY),
            per_hour: per(HOUR),
            per_ten_minutes: per(TEN_MINUTES),
            most_in_ten_minutes: most_within(&times, TEN_MINUTES),
            busy_ten_minutes: busy_share(&times, TEN_MINUTES, 10, lit),
            busy_hours: busy_share(&times, HOUR, 30, lit),
            flooded: flood_time(&times).0 as f64 / lit.0.max(1) as f64,
            by_priority,
            answered_in_time: answered_in_time(&raised, to),
            chattering: chattering(&raised),
            stale: stale(&raised, to),
        }
    }

    /// Each benchmark with what was measured.
    pub fn compared(&self) -> [(Benchmark, f64, Grade); 9] {
        let measured = [
            self.per_day,
            self.per_hour,
            self.per_ten_minutes,
            self.most_in_ten_minutes as f64,
            100.0 * self.busy_ten_minutes,
            100.0 * self.busy_hours,
            100.0 * self.flooded,
            self.chattering.len() as f64,
            self.stale as f64,
        ];
        std::array::from_fn(|index| {
            let benchmark = BENCHMARKS[index];
            (benchmark, measured[index], benchmark.grade(measured[index]))
        })
    }

    /// The share of one priority among all alarms; the standard's mix is about 80 low, 15 medium
    /// and 5 high in 100, with less than 1 of the highest where there are four.
    pub fn share(&self, priority: Priority) -> f64 {
        self.by_priority[priority as usize] as f64 / self.alarms.max(1) as f64
    }
}

/// The most moments within any stretch of this length; `times` are in order.
fn most_within(times: &[Moment], length: Span) -> usize {
    let mut first = 0;
    let mut most = 0;
    for (index, at) in times.iter().enumerate() {
        while *at - times[first] >= length {
            first += 1;
        }
        most = most.max(index + 1 - first);
    }
    most
}

/// The share of periods, on a fixed grid, with more than `limit` alarms.
fn busy_share(times: &[Moment], length: Span, limit: usize, lit: Span) -> f64 {
    let mut counts: BTreeMap<i64, usize> = BTreeMap::new();
    for at in times {
        *counts.entry(at.0.div_euclid(length.0)).or_default() += 1;
    }
    let busy = counts.values().filter(|count| **count > limit).count();
    busy as f64 / (lit.0 as f64 / length.0 as f64).ceil().max(1.0)
}

/// The time from the alarm that began each flood until fewer than five came in ten minutes.
fn flood_time(times: &[Moment]) -> Span {
    use super::annunciate::{FLOOD_BEGINS, FLOOD_ENDS_BELOW};
    let mut total = Span::ZERO;
    let mut began: Option<Moment> = None;
    for (index, at) in times.iter().enumerate() {
        let so_far = &times[..=index];
        let lately = so_far.iter().rev().take_while(|t| *at - **t < TEN_MINUTES).count();
        // The rate falls below the limit when the last but so many is ten minutes old.
        let ends = so_far
            .len()
            .checked_sub(FLOOD_ENDS_BELOW)
            .map_or(*at, |last_but| so_far[last_but] + TEN_MINUTES);
        if began.is_none() && lately >= FLOOD_BEGINS {
            began = Some(*at);
        }
        if let Some(from) = began
            && times.get(index + 1).is_none_or(|next| *next >= ends)
        {
            total = total + (ends - from);
            began = None;
        }
    }
    total
}

fn answered_in_time(raised: &[&Occurrence], to: Moment) -> (usize, usize) {
    let mut counted = 0;
    let mut in_time = 0;
    for occurrence in raised {
        let limit = occurrence.raised + occurrence.key.rule().time_to_respond;
        let over = [occurrence.answered, occurrence.returned].into_iter().flatten().min();
        if over.is_some() || limit <= to {
            counted += 1;
            in_time += usize::from(over.is_some_and(|at| at <= limit));
        }
    }
    (in_time, counted)
}

fn chattering(raised: &[&Occurrence]) -> Vec<Key> {
    let mut by_key: BTreeMap<Key, Vec<Moment>> = BTreeMap::new();
    for occurrence in raised {
        by_key.entry(occurrence.key).or_default().push(occurrence.raised);
    }
    let chatters = |times: &mut Vec<Moment>| {
        times.sort_unstable();
        most_within(times, CHATTER_WITHIN) >= CHATTER_TIMES
    };
    by_key.into_iter().filter_map(|(key, mut times)| chatters(&mut times).then_some(key)).collect()
}

/// The most alarms standing for more than a day at the same time.
fn stale(raised: &[&Occurrence], to: Moment) -> usize {
    let stale: Vec<(Moment, Moment)> = raised
        .iter()
        .map(|occurrence| (occurrence.raised + STALE_AFTER, occurrence.returned.unwrap_or(to)))
        .filter(|(stale_from, over)| stale_from < over)
        .collect();
    let at_once =
        |at: Moment| stale.iter().filter(|(from, over)| *from <= at && at < *over).count();
    stale.iter().map(|(from, _)| at_once(*from)).max().unwrap_or(0)
}
