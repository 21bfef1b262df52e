//! The instance of a shop, from its journal: what waits, what each kiln takes by its own firings, who is
//! there, and what is taken as usual where nobody said anything.

use super::adopted::Adopted;
use super::again::{Was, keep_hands};
use super::instance::{Fuel, Instance, Kiln, LoadType, Lot, Person, Way};
use super::spread::Spread;
use super::tables::STEP_MIN;
use super::{Firing as Planned, Plan, State as Stands, Tables};
use crate::cooling::{self, Cooling, USUALLY_HOT_FOR};
use crate::firing::{ConePack, Firing, FiringId, Shop, State};
use crate::forecast::{Question, USUAL_LIMIT, forecast};
use crate::hours::Staffed;
use crate::kiln::{Fuel as Burns, Kiln as Described, LoadType as Load, same_name};
use crate::review::prices::{Kind, Prices};
use crate::units::{Celsius, Moment, Span};
use crate::ware::{Lot as Said, Place, Ware, goes_on};
use crate::watch::Advice;

/// How far it is planned, days, today included; somebody draws what drops last a day later.
pub const DAYS: u32 = 3;
const DAY_MIN: f64 = 1440.0;

/// What is taken where the shop says nothing: minutes to pack and draw a kiln, to glaze or decorate what was
/// drawn, the share of a kiln that a lot fills, what it is worth. Common practice, no source.
const PACK_MIN: f64 = 40.0;
const DRAW_MIN: f64 = 15.0;
const BENCH_MIN: f64 = 180.0;
const FILLS: f64 = 0.5;
const PIECES: f64 = 20.0;
const WORTH_EUR: f64 = 6.0;
/// What was said of how much a lot fills is worth as much as what was seen of so many kilns (a guess).
const AS_SAID: f64 = 2.0;
/// The room of a kiln of which nothing is known, litres: only shares count then.
const ROOM_L: f64 = 100.0;
/// What an electric kiln draws and the share of the time for which it does, and what the fuel of another
/// costs in an hour (guesses).
const POWER_KW: f64 = 8.0;
const DUTY: f64 = 0.5;
const FUEL_EUR_PER_H: f64 = 2.5;
const EUR_PER_KWH: f64 = 0.3;
/// Everything that is known of a shop.
#[derive(Debug, Clone, Copy)]
pub struct Known<'a> {
    pub shop: &'a Shop,
    pub past: &'a [Firing],
    pub advices: &'a [(FiringId, Advice)],
    pub ware: &'a [Ware],
    pub prices: &'a Prices,
    pub draw_below: Celsius,
    pub staffed: &'a Staffed,
    pub now: Moment,
}

/// What was taken as usual: the hours, since nobody said; how long a load takes that was never fired in these
/// kilns, in the first of them, where anything is known of that; how much these lots fill; how many times
/// as much as was said lots of a type filled so many kilns.
#[derive(Debug, Clone, PartialEq)]
pub enum Taken {
    Hours,
    Length { kilns: Vec<String>, load_type: String, usual: Span },
    NoLength { load_type: String },
    Fills { lots: Vec<String> },
    FilledBefore { load_type: String, times: f64, kilns: usize },
}

/// The instance, the firings that are begun, the plan that was adopted as it is by now, and what was taken as
/// usual.
#[derive(Debug)]
pub struct OfShop {
    pub tables: Tables,
    pub begun: Plan,
    pub was: Option<Was>,
    pub taken: Vec<Taken>,
}

/// The corner points of a schedule by its name.
type Schedule = fn(&str) -> Option<Vec<(Span, Celsius)>>;

/// What a lot is called in a plan: its name, with what it is.
pub fn called(lot: &Said) -> String {
    match lot.contents.as_str() {
        "" => format!("lot {}", lot.name),
        what => format!("{} {what}", lot.name),
    }
}

struct Maker<'a> {
    known: Known<'a>,
    schedule: Schedule,
    instance: Instance,
    /// What each lot is called; nothing where the load is known as a whole only.
    names: Vec<String>,
    /// Each firing that is packed or burns, with the lots in it.
    begun: Vec<(Planned, Vec<usize>)>,
    taken: Vec<Taken>,
}

/// The instance of a shop as it stands.
pub fn of_shop(known: Known<'_>, schedule: Schedule) -> OfShop {
    let instance = nothing_waits(&known);
    let (names, begun, taken) = (Vec::new(), Vec::new(), Vec::new());
    let mut maker = Maker { known, schedule, instance, names, begun, taken };
    let hours_unknown = known.shop.hours.is_unknown();
    maker.taken.extend(hours_unknown.then_some(Taken::Hours));
    maker.instance.kilns = known.shop.kilns.iter().map(|kiln| maker.kiln(kiln)).collect();
    for firing in &known.shop.open {
        maker.begin(firing);
    }
    for ware in known.ware {
        match &ware.place {
            Place::Waits => drop(maker.lot(ware, None)),
            Place::In { firing, .. } => maker.fired(ware, *firing),
            Place::Done => {}
        }
    }
    let vague = known.ware.iter().filter(|ware| ware.waits() && ware.lot.fills.is_none());
    let lots: Vec<String> = vague.map(|ware| ware.lot.name.clone()).collect();
    maker.taken.extend((!lots.is_empty()).then_some(Taken::Fills { lots }));
    maker.made()
}

impl Maker<'_> {
    fn minutes(&self, at: Moment) -> f64 {
        (at - self.known.now).as_minutes()
    }

    fn kiln(&self, kiln: &Described) -> Kiln {
        let shop = self.known.shop;
        let all = || shop.kilns.iter().filter_map(|kiln| kiln.litres);
        let mean = || all().sum::<f64>() / all().count() as f64;
        let room = kiln.litres.unwrap_or_else(|| if all().count() > 0 { mean() } else { ROOM_L });
        let cool_at = shop.firing_in(&kiln.name).and_then(|firing| {
            let off = firing.standing().off?;
            let cooling = Cooling::of(firing, self.known.past)?;
            let cool = cooling.below(self.known.draw_below).unwrap_or(off + USUALLY_HOT_FOR);
            let at = self.minutes(cool);
            // What is left of a cooling is known to a tenth or so (a guess).
            let off_by = (0.1 * at).max(5.0);
            Some(Spread::new([at - off_by, at, at + 2.0 * off_by]))
        });
        let hands = self.known.prices.at(Kind::Hands, "", self.known.now).map(|hands| hands.value);
        Kiln {
            name: kiln.name.clone(),
            power_kw: match kiln.fuel {
                Burns::Gas => None,
                Burns::Electric => Some(self.power_kw(kiln)),
                // Neither gas nor current.
                Burns::Wood | Burns::Oil => Some(0.0),
            },
            room_l: room,
            pack_min: hands.map_or(PACK_MIN, |min| (min - DRAW_MIN).max(STEP_MIN)),
            draw_min: DRAW_MIN,
            starts_by_itself: self.starts_by_itself(kiln),
            cool_at,
        }
    }

    /// An electric kiln that was lit while nobody was there starts by itself.
    fn starts_by_itself(&self, kiln: &Described) -> bool {
        let here = |firing: &&Firing| same_name(&firing.kiln, &kiln.name);
        let lit = self.known.past.iter().filter(here).filter_map(|firing| firing.lit);
        let staffed = self.known.staffed;
        let there = |at: Moment| {
            let before = staffed.zone.wall(at - Span::hours(24)).date();
            staffed.days(before, at).any(|(from, to)| (from..=to).contains(&at))
        };
        let said = !self.known.shop.hours.is_unknown();
        kiln.fuel == Burns::Electric && said && lit.filter(|at| !there(*at)).count() >= 2
    }

    fn power_kw(&self, kiln: &Described) -> f64 {
        let draw = self.known.prices.at(Kind::Draw, &kiln.name, self.known.now);
        draw.filter(|draw| draw.unit.eq_ignore_ascii_case("kW")).map_or(POWER_KW, |draw| draw.value)
    }

    fn fuel(&self, kiln: &Described, hours: f64) -> Fuel {
        let (prices, now) = (self.known.prices, self.known.now);
        if kiln.fuel == Burns::Electric {
            let duty = prices.at(Kind::Duty, &kiln.name, now).map_or(DUTY, |duty| duty.value);
            return Fuel::Kwh(self.power_kw(kiln) * hours * duty);
        }
        let eur_per_h = || {
            let draw = prices.at(Kind::Draw, &kiln.name, now)?;
            let unit = draw.unit.trim().trim_end_matches("/h").trim();
            let price = prices.at(Kind::Fuel, &format!("{} {unit}", kiln.fuel.name()), now)?;
            Some(draw.value * price.value)
        };
        Fuel::GasEur(hours * eur_per_h().unwrap_or(FUEL_EUR_PER_H))
    }

    /// A load type by its place, with every kiln that fires it: those that did, or all where none has.
    fn load_type(&mut self, name: &str) -> usize {
        if let Some(place) =
            self.instance.load_types.iter().position(|of| same_name(&of.name, name))
        {
            return place;
        }
        let load = self.known.shop.load_type(name);
        let place = self.instance.load_types.len();
        let name = load.map_or(name, |load| &load.name).to_owned();
        let usual_h = load.and_then(|load| load.usual_length).map_or(10.0, Span::as_hours);
        // Short firings move fast at their end and are watched the more closely (a guess).
        let before_drop_min = match usual_h {
            ..7.0 => 20.0,
            ..10.0 => 30.0,
            _ => 40.0,
        };
        let watch = LoadType { name: name.clone(), before_drop_min, after_drop_min: 5.0 };
        self.instance.load_types.push(watch);
        let Some(load) = load else { return place };
        let known = self.known;
        let fired = |kiln: &Described| {
            let all = known.past.iter().chain(&known.shop.open);
            let mut here = all.filter(|one| one.lit.is_some() && same_name(&one.kiln, &kiln.name));
            here.any(|one| same_name(&one.load_type, &name))
        };
        let anywhere = known.shop.kilns.iter().any(fired);
        // Of a load that nobody fired the other loads tell nothing.
        let past = if anywhere { known.past } else { &[] };
        let before = self.instance.ways.len();
        for (kiln, described) in known.shop.kilns.iter().enumerate() {
            if !anywhere || fired(described) {
                self.way((kiln, described), (place, load), past);
            }
        }
        let first = self.instance.ways.get(before).map(|way| Span::from_minutes(way.drop.p50));
        self.taken.extend(match first {
            None => Some(Taken::NoLength { load_type: name }),
            Some(_) if anywhere => None,
            Some(usual) => {
                let kilns = known.shop.kilns.iter().map(|kiln| kiln.name.clone()).collect();
                Some(Taken::Length { kilns, load_type: name, usual })
            }
        });
        place
    }

    /// What a kiln takes for a load if it were lit now, by the shop's own record.
    fn way(
        &mut self,
        (kiln, described): (usize, &Described),
        (place, load): (usize, &Load),
        past: &[Firing],
    ) {
        let known = self.known;
        let here = |one: &&Firing| {
            same_name(&one.kiln, &described.name) && same_name(&one.load_type, &load.name)
        };
        let last = known.past.iter().filter(here).max_by_key(|one| one.lit);
        let firing = Firing {
            kiln: described.name.clone(),
            load_type: load.name.clone(),
            pack: Some(ConePack::usual(load.target, load.family)),
            schedule: last.and_then(|last| last.schedule.clone()),
            plan: last.map(|last| last.plan.clone()).unwrap_or_default(),
            lit: Some(known.now),
            state: State::Lit,
            ..Firing::default()
        };
        let schedule = firing.plan_or(self.schedule);
        let question = Question {
            firing: &firing,
            load: Some(load),
            kiln: Some(described),
            past,
            schedule: schedule.as_deref(),
            corrections: Some(&known.shop.corrections),
            now: known.now,
            limit: USUAL_LIMIT,
        };
        let Ok(forecast) = forecast(&question) else { return };
        let drop = [forecast.p05, forecast.p50, forecast.p95];
        let drop = Spread::new(drop.map(|at| self.minutes(at).max(1.0)));
        let cool = cooling::usual(known.past, &described.name, known.draw_below);
        let cool = Spread::new(cool.map(Span::as_minutes));
        let fuel = self.fuel(described, drop.p50 / 60.0);
        self.instance.ways.push(Way { kiln, load_type: place, drop, cool, fuel });
    }

    /// How many times as much as was said the lots of a load type fill, by how full the kilns were that fired
    /// them: the mean of the logarithms, drawn towards 1 as by [`AS_SAID`] more kilns.
    fn filled_before(&mut self, load_type: &str) -> f64 {
        let Known { shop, past, .. } = self.known;
        let room = |name: &str| Some(self.instance.kilns[self.instance.kiln_called(name)?].room_l);
        let more = |firing: &Firing| {
            let (full, room_l) = (firing.full()?, room(&firing.kiln)?);
            let lots = &firing.packing.as_ref().filter(|packing| !packing.lots.is_empty())?.lots;
            let said = |name: &String| {
                let lot = shop.lots.iter().find(|lot| same_name(&lot.name, name))?;
                Some(lot.fills.unwrap_or(FILLS) * room(&lot.of_kiln).unwrap_or(room_l))
            };
            let said: f64 = lots.iter().map(said).sum::<Option<f64>>()?;
            Some((full.share() * room_l / said).ln())
        };
        let of_type = past.iter().chain(&shop.open);
        let of_type = of_type.filter(|firing| same_name(&firing.load_type, load_type));
        let all: Vec<f64> = of_type.filter_map(more).collect();
        let times = (all.iter().sum::<f64>() / (all.len() as f64 + AS_SAID)).exp();
        let (load_type, kilns) = (load_type.to_owned(), all.len());
        let taken = Taken::FilledBefore { load_type, times, kilns };
        if (times - 1.0).abs() > 0.05 && !self.taken.contains(&taken) {
            self.taken.push(taken);
        }
        times
    }

    /// A lot, with what becomes of it: the loads it goes on to, one after the other.
    fn lot(&mut self, ware: &Ware, inside: Option<f64>) -> usize {
        let mut rooms: Vec<f64> = self.instance.kilns.iter().map(|kiln| kiln.room_l).collect();
        rooms.sort_by(f64::total_cmp);
        let middle = rooms.get(rooms.len() / 2).copied().unwrap_or(ROOM_L);
        let of = self
            .instance
            .kiln_called(&ware.lot.of_kiln)
            .map_or(middle, |of| self.instance.kilns[of].room_l);
        let more = if inside.is_none() { self.filled_before(&ware.lot.load_type) } else { 1.0 };
        let room_l = inside.unwrap_or_else(|| more * ware.lot.fills.unwrap_or(FILLS) * of);
        let name = called(&ware.lot);
        // Parts of one lot are told apart.
        let mut id = name.clone();
        if self.instance.lots.iter().any(|lot| lot.id == id) {
            id = format!("{name}, {}", ware.lot.load_type);
        }
        let first = self.instance.lots.len();
        let mut said = ware.lot.clone();
        let mut after = None;
        loop {
            let load_type = self.load_type(&said.load_type);
            // What is said of where it goes is planned as well, what only follows from its name is not.
            let is_last = said.then.is_empty();
            self.names.push(said.name.clone());
            self.instance.lots.push(Lot {
                id,
                load_type,
                pieces: said.pieces.map_or(PIECES, f64::from),
                room_l,
                worth_eur_per_piece: said.worth.unwrap_or(WORTH_EUR),
                ready_from: said.ready.filter(|_| after.is_none()).map(|at| self.minutes(at)),
                after,
                wanted_by: said.wanted.filter(|_| is_last).map(|at| self.minutes(at)),
            });
            if is_last || !goes_on(&mut said, &self.known.shop.load_types) {
                return first;
            }
            after = Some((self.instance.lots.len() - 1, BENCH_MIN));
            id = format!("{name} for {}", said.load_type);
        }
    }

    /// What was fired and has no outcome yet goes on, where it was said to.
    fn fired(&mut self, ware: &Ware, firing: FiringId) {
        let shop = self.known.shop;
        let its = |one: &&Firing| one.id == firing && (one.cools() || one.state == State::Drawn);
        let mut lot = ware.lot.clone();
        let Some(firing) = shop.open.iter().find(its).filter(|_| !lot.then.is_empty()) else {
            return;
        };
        let hot = self
            .instance
            .kiln_called(&firing.kiln)
            .and_then(|kiln| self.instance.kilns[kiln].cool_at);
        let cool = hot.map_or(0.0, |cool| cool.p50);
        let drawn = firing.drawn.map_or(cool + DRAW_MIN, |at| self.minutes(at));
        lot.ready = Some(self.known.now + Span::from_minutes(drawn + BENCH_MIN));
        if goes_on(&mut lot, &shop.load_types) {
            self.lot(&Ware { lot, ..ware.clone() }, None);
        }
    }

    /// A firing that is packed or burns stays as it is, with its lots, or with its load as a whole.
    fn begin(&mut self, firing: &Firing) {
        let packed = firing.state == State::Planned && !firing.is_void();
        let kiln = self.instance.kiln_called(&firing.kiln).filter(|_| packed || firing.burns());
        let Some(kiln) = kiln else { return };
        let load_type = self.load_type(&firing.load_type);
        let way = self.instance.way(kiln, load_type);
        let advice = self.known.advices.iter().find(|(id, _)| *id == firing.id);
        let lit = firing.lit.filter(|_| !packed);
        let forecast = || advice?.1.forecast.as_ref().ok();
        let drop = match firing.seen_down() {
            Some(down) => Some([down; 3]),
            None => forecast().map(|forecast| [forecast.p05, forecast.p50, forecast.p95]),
        };
        let forecast = lit
            .zip(drop)
            .map(|(lit, drop)| Spread::new(drop.map(|at| (at - lit).as_minutes().max(0.0))));
        let room = self.instance.kilns[kiln].room_l;
        let inside = self.known.ware.iter().filter(|ware| ware.is_in(firing));
        let ware: Vec<&Ware> = inside.collect();
        let share = room / ware.len().max(1) as f64;
        let mut lots: Vec<usize> =
            ware.into_iter().map(|ware| self.lot(ware, Some(share))).collect();
        let Some(way) = way else { return };
        if lots.is_empty() {
            let packing = firing.packing.as_ref();
            let contents =
                packing.map(|said| said.contents.clone()).filter(|said| !said.is_empty());
            let pieces = firing.pieces().map_or(PIECES, f64::from);
            let worth = packing.and_then(|said| said.worth).map(|worth| worth / pieces.max(1.0));
            lots.push(self.instance.lots.len());
            self.names.push(String::new());
            self.instance.lots.push(Lot {
                id: contents.unwrap_or_else(|| format!("firing {}", firing.id)),
                load_type,
                pieces,
                room_l: room,
                worth_eur_per_piece: worth.unwrap_or(WORTH_EUR),
                ready_from: None,
                after: None,
                wanted_by: None,
            });
        }
        let state = if lit.is_some() { Stands::Lit } else { Stands::Packed };
        let light = lit.map_or(f64::NAN, |lit| self.minutes(lit));
        self.begun.push((Planned { state, forecast, ..Planned::new(way, light) }, lots));
    }

    fn made(self) -> OfShop {
        let (mut begun, mut tables) = (Plan::empty(&self.instance), Tables::new(self.instance));
        tables.names = self.names;
        let adopted = self.known.shop.adopted.as_ref();
        tables.bar(adopted.map_or(&[], |(_, adopted)| &adopted.barred));
        for (at, (mut firing, lots)) in self.begun.into_iter().enumerate() {
            if firing.state == Stands::Packed {
                firing.light = tables.may_be_lit(firing.way).next().unwrap_or(2.0 * STEP_MIN);
            }
            let draw_min = tables.instance.kiln_of(firing.way).draw_min;
            (firing.pack, firing.was, firing.number) = (firing.light, Some(at), at + 1);
            firing.draw = tables.next_there(tables.drawable_at(&firing), draw_min);
            keep_hands(&tables, &mut firing);
            begun.firings.push(firing);
            lots.into_iter().for_each(|lot| begun.put(lot, at));
        }
        let by_now = |(at, adopted): &(Moment, Adopted)| {
            adopted.by_now(*at, &tables, &begun, self.known.now)
        };
        let was = adopted.and_then(by_now);
        OfShop { tables, begun, was, taken: self.taken }
    }
}

/// The instance of a shop but for its kilns and what waits for them.
fn nothing_waits(known: &Known<'_>) -> Instance {
    let wall = known.staffed.zone.wall(known.now).time();
    let made_at_min = (wall - chrono::NaiveTime::MIN).num_minutes() as f64;
    let price = known.prices.at(Kind::Fuel, "electric kWh", known.now);
    let eur_per_kwh = price.map_or(EUR_PER_KWH, |price| price.value);
    let said = &known.shop.limits;
    Instance {
        made_at_min,
        last_drop_by: f64::from(DAYS) * DAY_MIN - made_at_min,
        people: people(known),
        kilns: Vec::new(),
        load_types: Vec::new(),
        ways: Vec::new(),
        lots: Vec::new(),
        limits: said.limits(),
        tariff: said.tariff(eur_per_kwh),
        weights: said.weights(),
    }
}

/// Everybody who is there, by number: who they are is not said.
fn people(known: &Known<'_>) -> Vec<Person> {
    let (staffed, now) = (known.staffed, known.now);
    let today = staffed.zone.wall(now).date();
    let until = now + Span::hours(24 * i64::from(DAYS));
    let mut people: Vec<Person> = Vec::new();
    for (from, to) in staffed.days(today, until) {
        let there = ((from - now).as_minutes(), (to - now).as_minutes());
        let open = staffed.hours.on(staffed.zone.wall(from).date());
        for nth in 0..open.map_or(0, |open| open.people.0.min(20) as usize) {
            if people.len() == nth {
                let name = match nth {
                    0 => "somebody".to_owned(),
                    nth => format!("person {}", nth + 1),
                };
                people.push(Person { name, packs: true, watches: true, there: Vec::new() });
            }
            people[nth].there.push(there);
        }
    }
    people
}
