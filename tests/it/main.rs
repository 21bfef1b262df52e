//! One integration binary. Test names say the kind of evidence: `published_` (a table or worked
//! example from outside, named beside it), `crosscheck_` (another library or a slow independent
//! method), `law_` (a property), `regress_` (only against our own past).

mod advise;
mod alarm_conditions;
mod alarm_ringing;
mod alarm_rules;
mod alarm_state;
mod alarm_week;
mod bad_input;
mod bell_desktop;
mod bell_sound;
mod bell_ways;
mod bending;
mod bulk;
mod calendar;
mod charts;
mod cone_command;
mod cooling;
mod crash;
mod follow;
mod forecast;
mod forecast_trials;
mod glow;
mod heat_work;
mod help;
mod journal;
mod keeper;
mod looks;
mod overfired;
mod picture;
mod program;
mod readme;
mod records;
mod rehearsal;
mod review;
mod scenarios;
mod schedules;
mod schedules_malformed;
mod schedules_said;
mod schedules_shipped;
mod screens;
mod simulator;
mod strangers;
mod terminal;
mod tidy;
mod words;
