//! Plans as people make them by habit: what is wanted first goes into the next free kiln. The rules are those of the
//! program that judges plans beside this one, told again.

use spyhole::testing::plan::tables::STEP_MIN;
use spyhole::testing::plan::{Broken, DayPlan, Firing, Judged, Plan, State, Tables};

const DAY_MIN: f64 = 1440.0;

/// By when a lot has to be fired for the last thing made of it to be in time, minutes.
fn urgency(tables: &Tables, lot: usize) -> f64 {
    let instance = &tables.instance;
    let chain: Vec<usize> = std::iter::successors(Some(lot), |of| instance.next_of(*of)).collect();
    let wanted = chain.last().and_then(|last| instance.lots[*last].wanted_by);
    wanted.map_or(1e9, |by| by - 1.3 * DAY_MIN * (chain.len() - 1) as f64)
}

/// Each kiln is packed as soon as it is free and lit as soon as it is packed; or, `careful`, not before somebody is
/// there at the drop and the watches keep apart.
pub(super) fn habit(day: &DayPlan, careful: bool) -> Plan {
    let (tables, instance) = (&day.tables, &day.tables.instance);
    let mut plan = day.plan.clone();
    while let Some(planned) = plan.firings.iter().position(|one| one.state == State::Planned) {
        plan.remove(planned);
    }
    let mut free = tables.free_from.clone();
    for firing in &plan.firings {
        let kiln = instance.ways[firing.way].kiln;
        free[kiln] = free[kiln].max(firing.draw + instance.kilns[kiln].draw_min);
    }
    let mut order: Vec<usize> = (0..instance.lots.len()).collect();
    order.sort_by(|a, b| urgency(tables, *a).total_cmp(&urgency(tables, *b)));
    let mut t = 0.0;
    while t < instance.last_drop_by {
        let staffed = tables.hands[(t / STEP_MIN) as usize] > 0;
        for (kiln, free) in free.iter_mut().enumerate() {
            if staffed && *free <= t {
                packed(tables, &mut plan, (kiln, free), (t, careful), &order);
            }
        }
        t += if staffed { 15.0 } else { 30.0 };
    }
    plan
}

/// Packs a kiln with what is wanted first and fits, if that can be fired.
fn packed(
    tables: &Tables,
    plan: &mut Plan,
    (kiln, free): (usize, &mut f64),
    (t, careful): (f64, bool),
    order: &[usize],
) {
    let (instance, is) = (&tables.instance, &tables.instance.kilns[kiln]);
    let ready = |lot: &&usize| {
        let of = &instance.lots[**lot];
        let drawn = |first: usize| {
            let firing = &plan.firings[plan.firing_of(first)?];
            Some(firing.draw + instance.kiln_of(firing.way).draw_min)
        };
        let ready = match of.after {
            Some((first, bench)) => drawn(first).map_or(f64::INFINITY, |drawn| drawn + bench),
            None => of.ready_from.unwrap_or(0.0),
        };
        plan.firing_of(**lot).is_none() && ready <= t
    };
    let waits: Vec<usize> = order.iter().filter(ready).copied().collect();
    let mut tried = Vec::new();
    for lead in &waits {
        let load_type = instance.lots[*lead].load_type;
        let Some(way) = instance.way(kiln, load_type).filter(|way| !tried.contains(way)) else {
            continue;
        };
        if instance.lots[*lead].room_l > is.room_l {
            continue;
        }
        tried.push(way);
        let (mut lots, mut litres) = (Vec::new(), 0.0);
        for lot in waits.iter().filter(|lot| instance.lots[**lot].load_type == load_type) {
            if litres + instance.lots[*lot].room_l <= is.room_l {
                litres += instance.lots[*lot].room_l;
                lots.push(*lot);
            }
        }
        if litres < 0.5 * is.room_l && urgency(tables, *lead) > t + DAY_MIN {
            continue;
        }
        let first = t + (is.pack_min / STEP_MIN).ceil() * STEP_MIN;
        let steps = match (is.starts_by_itself, careful) {
            (true, _) => 288,
            (false, true) => 84,
            (false, false) => 1,
        };
        for step in 0..steps {
            let mut firing = Firing::new(way, first + f64::from(step) * STEP_MIN);
            firing.pack = t;
            firing.draw = tables.next_there(tables.drawable_at(&firing), is.draw_min);
            let meets = plan.firings.iter().map(|other| tables.meet(other, &firing)).sum::<f64>();
            if tables.there(&firing) < if careful { 0.95 } else { 0.6 } || careful && meets > 0.02 {
                continue;
            }
            let mut with = plan.clone();
            with.firings.push(firing);
            lots.iter().for_each(|lot| with.put(*lot, plan.firings.len()));
            let minded = |(_, broken): &(f64, Broken)| {
                use Broken::{NeedsFirst, NobodyAtDrop, WatchesMeet};
                !matches!(broken, NobodyAtDrop { .. } | WatchesMeet { .. } | NeedsFirst { .. })
            };
            if !Judged::of(tables, &with).broken.iter().any(minded) {
                *free = firing.draw + is.draw_min;
                *plan = with;
                return;
            }
        }
    }
}
