//! One integration binary. Test names say the kind of evidence: `published_` (a table or worked
//! example from outside, named beside it), `crosscheck_` (another library or a slow independent
//! method), `law_` (a property), `regress_` (only against our own past).

mod charts;
mod forecast;
mod forecast_trials;
mod looks;
mod scenarios;
mod simulator;
