//! Tuning from logs: what was simulated comes back, and the retuned loop is better.

mod retuned;
mod round_trip;
mod shapes;
mod site;
