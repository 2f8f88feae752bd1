//! Logs read back, entry by entry and replayed.

use risertrim_sim::log::{Entry, LogReader, Replay, ReplayOutcome, Start};
use risertrim_sim::scenario::Scenario;

pub fn scenario(name: &str) -> Scenario {
    Scenario::by_name_or_path(name).unwrap_or_else(|report| panic!("{report}"))
}

pub fn entries(log: &[u8]) -> Vec<Entry> {
    LogReader::open(log)
        .expect("a log")
        .collect::<Result<_, _>>()
        .expect("readable to its end")
}

pub fn replay(log: &[u8], start: Start) -> ReplayOutcome {
    let mut replay = Replay::new(start);
    for entry in entries(log) {
        replay.take(&entry).expect("settings that suit");
    }
    replay.finish().0
}
