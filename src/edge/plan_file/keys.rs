//! The keys of an instance and of a plan.

use serde::Deserialize;
use serde::de::IgnoredAny;

/// One object a line: its keys, in brackets those that may be there and are not read, and further ones.
macro_rules! keys {
    ($($name:ident { $($key:ident: $of:ty),* } [$($not:ident $read:literal),*] { $($more:ident: $of_more:ty),* })+) => {$(
        #[derive(Debug, Deserialize)]
        #[serde(deny_unknown_fields)]
        pub struct $name {
            $(pub $key: $of,)*
            $(#[serde(rename = $read)]
            $not: Option<IgnoredAny>,)*
            $(pub $more: $of_more,)*
        }
    )+};
}

keys! {
    InstanceKeys { plan_instance: u32 } [_made_by "made_by"] {
        now: String, last_drop_by: String, people: Vec<PersonKeys>, kilns: Vec<KilnKeys>,
        durations: Vec<DurationKeys>, watch: Vec<WatchKeys>, batches: Vec<LotKeys>,
        limits: LimitKeys, tariff: TariffKeys, costs: CostKeys
    }
    PersonKeys { name: String, can: Vec<Can>, there: Vec<StretchKeys> } [] {}
    StretchKeys { from: String, to: String } [] {}
    KilnKeys {
        kiln: String, fuel: FuelKey, room_l: f64, pack_min: f64, draw_min: f64,
        starts_by_itself: bool, power_kw: Option<f64>, hot_now: Option<HotKeys>
    } [] {}
    HotKeys { cool_at_p05: String, cool_at_p50: String, cool_at_p95: String } [] {}
    DurationKeys {
        kiln: String, load_type: String, lit_to_drop_min: Points, drop_to_cool_min: Points,
        gas_eur: Option<f64>, energy_kwh: Option<f64>
    } [] {}
    Points { p05: f64, p50: f64, p95: f64 } [] {}
    WatchKeys { load_type: String, before_drop_min: f64, after_drop_min: f64 } [] {}
    LotKeys {
        id: String, load_type: String, pieces: f64, room_l: f64, worth_eur_per_piece: f64,
        ready_from: Option<String>, after: Option<String>, bench_min: Option<f64>,
        wanted_by: Option<String>
    } [] {}
    LimitKeys {
        gas_kilns_climbing_at_once: u32, power_kw_at_once: f64, watches_at_once: u32,
        watches_meet_at_most: f64, dropped_while_there_at_least: f64, cool_in_time_at_least: f64
    } [] {}
    TariffKeys {
        day_eur_per_kwh: f64, night_eur_per_kwh: f64, night_from: String, night_to: String
    } [] {}
    CostKeys {
        late_eur_per_piece_day: f64, waiting_eur_per_piece_day: f64,
        lost_share_if_watches_meet: f64, lost_share_if_nobody_there: f64, put_off_eur: f64,
        firing_work_eur: f64
    } [_broken_rule_eur "broken_rule_eur"] {}
    // The answer again; what is reckoned anew is not read.
    PlanKeys { plan: u32, firings: Vec<FiringKeys> } [
        _made_at "made_at", _until "until", _holds "holds", _changed "changed",
        _left_waiting "left_waiting", _late "late", _checks "checks",
        _rules_broken "rules_broken", _costs_eur "costs_eur", _tried "tried",
        _best_not_proven "best_not_proven"
    ] {}
    FiringKeys {
        number: Option<u32>, batch_ids: Vec<String>, kiln: String, load_type: String,
        light_at: String, pack_from: Option<String>, draw_from: Option<String>,
        drop_p05: Option<String>, drop_p50: Option<String>, drop_p95: Option<String>,
        state: Option<StateKey>
    } [
        _starts_by_itself "starts_by_itself", _full_share "full_share", _packed_by "packed_by",
        _light_no_later_than "light_no_later_than", _watch_from "watch_from",
        _watched_by "watched_by", _dropped_while_there "dropped_while_there",
        _watch_meets "watch_meets", _why "why"
    ] {}
}

#[derive(Debug, Deserialize, PartialEq, Eq)]
#[serde(rename_all = "lowercase")]
pub enum Can {
    Pack,
    Watch,
}

#[derive(Debug, Deserialize, PartialEq, Eq)]
#[serde(rename_all = "lowercase")]
pub enum FuelKey {
    Gas,
    Electric,
}

#[derive(Debug, Clone, Copy, Deserialize, PartialEq, Eq)]
#[serde(rename_all = "lowercase")]
pub enum StateKey {
    Planned,
    Packed,
    Lit,
}
