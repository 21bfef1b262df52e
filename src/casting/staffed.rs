//! When somebody is in the shop.

use std::sync::Arc;

use chrono::{Datelike, Days, NaiveTime, Weekday};

use crate::units::{Moment, Span};
use crate::words::Zone;

/// The weekdays, the hours of them and the wall clock they are told by.
#[derive(Debug, Clone)]
pub struct Staffed {
    /// From Monday on.
    pub days: [bool; 7],
    /// Minutes since midnight; an end that is not later than the beginning is of the next day.
    pub from: u32,
    pub to: u32,
    pub zone: Arc<dyn Zone>,
}

impl Staffed {
    /// Moments from `from` to `until` at which somebody is there, `step` apart from the first one of
    /// each day on, the last moment before they leave included.
    pub fn moments(&self, from: Moment, until: Moment, step: Span) -> Vec<Moment> {
        let mut moments = Vec::new();
        let Some(mut day) = self.zone.wall(from).date().checked_sub_days(Days::new(1)) else {
            return moments;
        };
        let last = self.zone.wall(until).date();
        while day <= last {
            if self.is_open(day.weekday()) {
                let opens = self.moment(day, self.from);
                let closes = self.moment(day, self.closes());
                let mut at = opens.max(from);
                while at < closes && at <= until {
                    moments.push(at);
                    // The first is now, the others are whole steps.
                    at = opens + Span(((at - opens).0 / step.0 + 1) * step.0);
                }
                let leaving = closes - LEAVING;
                if leaving > from && leaving <= until && moments.last() < Some(&leaving) {
                    moments.push(leaving);
                }
            }
            let Some(next) = day.succ_opt() else { break };
            day = next;
        }
        moments.dedup();
        moments
    }

    /// When they come between two moments.
    pub fn openings(&self, from: Moment, until: Moment) -> Vec<Moment> {
        let mut day = self.zone.wall(from).date();
        let mut openings = Vec::new();
        while openings.last().is_none_or(|at| *at <= until) && openings.len() < 14 {
            if self.is_open(day.weekday()) {
                openings.push(self.moment(day, self.from));
            }
            let Some(next) = day.succ_opt().filter(|_| self.days.contains(&true)) else { break };
            day = next;
        }
        openings.retain(|at| (from..=until).contains(at));
        openings
    }

    fn is_open(&self, day: Weekday) -> bool {
        self.days[day.num_days_from_monday() as usize]
    }

    fn closes(&self) -> u32 {
        if self.to > self.from { self.to } else { self.to + DAY }
    }

    /// The moment at which the wall clock shows this; where the clocks are put forward over it,
    /// an hour later.
    fn moment(&self, day: chrono::NaiveDate, minutes: u32) -> Moment {
        let day = day + Days::new(u64::from(minutes / DAY));
        let minutes = minutes % DAY;
        let time = NaiveTime::from_hms_opt(minutes / 60, minutes % 60, 0).unwrap_or_default();
        let wall = day.and_time(time);
        let read = self.zone.moments(wall).earliest();
        read.or_else(|| self.zone.moments(wall + chrono::TimeDelta::hours(1)).earliest())
            .unwrap_or_default()
    }
}

const DAY: u32 = 24 * 60;
/// A check on the way out takes so long (a guess).
const LEAVING: Span = Span::minutes(15);
