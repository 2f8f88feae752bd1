//! Tuning from logs: what was simulated comes back, and the retuned loop is better.

mod round_trip;
mod site;
