//! One integration binary. Test names say the kind of evidence: `published_` (a table or worked
//! example from outside, named beside it), `crosscheck_` (another library or a slow independent
//! method), `law_` (a property), `regress_` (only against our own past).

mod bad_input;
mod charts;
mod cone_command;
mod help;
mod overfired;
mod program;
mod review;
mod tidy;
