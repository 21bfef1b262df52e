//! The keys of an instance and of a plan.

use serde::Deserialize;
use serde::de::IgnoredAny;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct InstanceKeys {
    pub plan_instance: u32,
    #[serde(rename = "made_by")]
    _made_by: Option<IgnoredAny>,
    pub now: String,
    pub last_drop_by: String,
    pub people: Vec<PersonKeys>,
    pub kilns: Vec<KilnKeys>,
    pub durations: Vec<DurationKeys>,
    pub watch: Vec<WatchKeys>,
    pub batches: Vec<LotKeys>,
    pub limits: LimitKeys,
    pub tariff: TariffKeys,
    pub costs: CostKeys,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PersonKeys {
    pub name: String,
    pub can: Vec<Can>,
    pub there: Vec<StretchKeys>,
}

#[derive(Debug, Deserialize, PartialEq, Eq)]
#[serde(rename_all = "lowercase")]
pub enum Can {
    Pack,
    Watch,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StretchKeys {
    pub from: String,
    pub to: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KilnKeys {
    pub kiln: String,
    pub fuel: FuelKey,
    pub room_l: f64,
    pub pack_min: f64,
    pub draw_min: f64,
    pub starts_by_itself: bool,
    pub power_kw: Option<f64>,
    pub hot_now: Option<HotKeys>,
}

#[derive(Debug, Deserialize, PartialEq, Eq)]
#[serde(rename_all = "lowercase")]
pub enum FuelKey {
    Gas,
    Electric,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HotKeys {
    pub cool_at_p05: String,
    pub cool_at_p50: String,
    pub cool_at_p95: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DurationKeys {
    pub kiln: String,
    pub load_type: String,
    pub lit_to_drop_min: Points,
    pub drop_to_cool_min: Points,
    pub gas_eur: Option<f64>,
    pub energy_kwh: Option<f64>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Points {
    pub p05: f64,
    pub p50: f64,
    pub p95: f64,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WatchKeys {
    pub load_type: String,
    pub before_drop_min: f64,
    pub after_drop_min: f64,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LotKeys {
    pub id: String,
    pub load_type: String,
    pub pieces: f64,
    pub room_l: f64,
    pub worth_eur_per_piece: f64,
    pub ready_from: Option<String>,
    pub after: Option<String>,
    pub bench_min: Option<f64>,
    pub wanted_by: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LimitKeys {
    pub gas_kilns_climbing_at_once: u32,
    pub power_kw_at_once: f64,
    pub watches_at_once: u32,
    pub watches_meet_at_most: f64,
    pub dropped_while_there_at_least: f64,
    pub cool_in_time_at_least: f64,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TariffKeys {
    pub day_eur_per_kwh: f64,
    pub night_eur_per_kwh: f64,
    pub night_from: String,
    pub night_to: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CostKeys {
    pub late_eur_per_piece_day: f64,
    pub waiting_eur_per_piece_day: f64,
    pub lost_share_if_watches_meet: f64,
    pub lost_share_if_nobody_there: f64,
    pub put_off_eur: f64,
    pub firing_work_eur: f64,
    #[serde(rename = "broken_rule_eur")]
    _broken_rule_eur: Option<IgnoredAny>,
}

/// The answer again; what is reckoned anew is not read.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlanKeys {
    pub plan: u32,
    pub firings: Vec<FiringKeys>,
    #[serde(rename = "made_at")]
    _made_at: Option<IgnoredAny>,
    #[serde(rename = "until")]
    _until: Option<IgnoredAny>,
    #[serde(rename = "holds")]
    _holds: Option<IgnoredAny>,
    #[serde(rename = "changed")]
    _changed: Option<IgnoredAny>,
    #[serde(rename = "left_waiting")]
    _left_waiting: Option<IgnoredAny>,
    #[serde(rename = "late")]
    _late: Option<IgnoredAny>,
    #[serde(rename = "checks")]
    _checks: Option<IgnoredAny>,
    #[serde(rename = "rules_broken")]
    _rules_broken: Option<IgnoredAny>,
    #[serde(rename = "costs_eur")]
    _costs_eur: Option<IgnoredAny>,
    #[serde(rename = "tried")]
    _tried: Option<IgnoredAny>,
    #[serde(rename = "best_not_proven")]
    _best_not_proven: Option<IgnoredAny>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FiringKeys {
    pub number: Option<u32>,
    pub batch_ids: Vec<String>,
    pub kiln: String,
    pub load_type: String,
    pub light_at: String,
    pub pack_from: Option<String>,
    pub draw_from: Option<String>,
    pub drop_p05: Option<String>,
    pub drop_p50: Option<String>,
    pub drop_p95: Option<String>,
    pub state: Option<StateKey>,
    #[serde(rename = "starts_by_itself")]
    _starts_by_itself: Option<IgnoredAny>,
    #[serde(rename = "full_share")]
    _full_share: Option<IgnoredAny>,
    #[serde(rename = "packed_by")]
    _packed_by: Option<IgnoredAny>,
    #[serde(rename = "light_no_later_than")]
    _light_no_later_than: Option<IgnoredAny>,
    #[serde(rename = "watch_from")]
    _watch_from: Option<IgnoredAny>,
    #[serde(rename = "watched_by")]
    _watched_by: Option<IgnoredAny>,
    #[serde(rename = "dropped_while_there")]
    _dropped_while_there: Option<IgnoredAny>,
    #[serde(rename = "watch_meets")]
    _watch_meets: Option<IgnoredAny>,
    #[serde(rename = "why")]
    _why: Option<IgnoredAny>,
}

#[derive(Debug, Clone, Copy, Deserialize, PartialEq, Eq)]
#[serde(rename_all = "lowercase")]
pub enum StateKey {
    Planned,
    Packed,
    Lit,
}
