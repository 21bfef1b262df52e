//! Advice for the firings of a whole shop.

use crate::cooling::Cooling;
use crate::firing::{Firing, FiringId, Shop};
use crate::forecast::{Question, USUAL_LIMIT};
use crate::units::{Celsius, Moment, Span};
use crate::watch::{Advice, advise};

/// Advice for one firing of a shop; see [`advices`].
pub fn advice(
    shop: &Shop,
    firing: &Firing,
    past: &[Firing],
    plan: impl Fn(&str) -> Option<Vec<(Span, Celsius)>>,
    now: Moment,
) -> Advice {
    let schedule = firing.plan_or(plan);
    advise(&Question {
        firing,
        load: shop.load_type(&firing.load_type),
        kiln: shop.kiln(&firing.kiln),
        past,
        schedule: schedule.as_deref(),
        corrections: Some(&shop.corrections),
        now,
        limit: USUAL_LIMIT,
    })
}

/// Advice for every firing that burns, and how those cool that are off. `past` is the shop's finished
/// firings; `plan` gives the corner points of a schedule by its name, for firings that were recorded
/// without them.
pub fn advices(
    shop: &Shop,
    past: &[Firing],
    plan: impl Fn(&str) -> Option<Vec<(Span, Celsius)>>,
    now: Moment,
) -> Vec<(FiringId, Advice)> {
    let mut advices: Vec<(FiringId, Advice)> = shop
        .open
        .iter()
        .filter(|firing| firing.burns() || firing.cools())
        .map(|firing| {
            let advice = advice(shop, firing, past, &plan, now);
            (firing.id, Advice { cooling: Cooling::of(firing, past), ..advice })
        })
        .collect();
    // Nobody is asked for anything else while another kiln is watched.
    let watched = advices.iter().filter(|(_, advice)| advice.is_watched());
    let watched: Vec<FiringId> = watched.map(|(id, _)| *id).collect();
    for (id, advice) in &mut advices {
        advice.request = advice.request.filter(|_| watched.iter().all(|other| other == id));
    }
    advices
}
