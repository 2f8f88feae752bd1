//! Logs: written by a simulation, read back, damaged in every way, replayed.

mod damaged;
mod frozen;
mod kept;
mod reading;
mod replayed;
