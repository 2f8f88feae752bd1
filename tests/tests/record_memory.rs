//! Reading a log takes no more memory for a longer one. In a program of its own: what the whole process holds is measured, and tests
//! beside it would count.

use risertrim::record::Plan;
use risertrim_sim::log::{LogReader, Summary};
use risertrim_tests::logs::log_of;
use std::io::Read;

/// A log without end: the frames of a short one again and again, each time as another start.
struct Endless<'a> {
    log: &'a [u8],
    at: usize,
    left: u64,
}

impl Read for Endless<'_> {
    fn read(&mut self, out: &mut [u8]) -> std::io::Result<usize> {
        let wanted = out.len().min(usize::try_from(self.left).unwrap_or(usize::MAX));
        let mut written = 0;
        while written < wanted {
            let piece = &self.log[self.at..];
            let length = piece.len().min(wanted - written);
            out[written..written + length].copy_from_slice(&piece[..length]);
            written += length;
            self.at = (self.at + length) % self.log.len();
        }
        self.left -= written as u64;
        Ok(written)
    }
}

/// Resident memory, KiB, where the system tells it.
fn memory_kib() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmRSS:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

/// Reads so many records; records a second, and by how much the memory grew after the first tenth, KiB.
fn read_many(records: u64) -> (f64, u64) {
    let log = log_of("default", 1.0, Plan::USUAL);
    let input = Endless {
        log: &log,
        at: 0,
        left: u64::MAX,
    };
    let mut reader = LogReader::open(input).expect("a log");
    let mut summary = Summary::new();
    let begin = std::time::Instant::now();
    let (mut early, mut read) = (None, 0);
    while read < records {
        let entry = reader.next().expect("endless").expect("readable");
        summary.take(&entry);
        read += 1;
        if read == records / 10 {
            early = memory_kib();
        }
    }
    let rate = records as f64 / begin.elapsed().as_secs_f64();
    assert_eq!((summary.damage_count, summary.unknown, summary.repeated), (0, 0, 0));
    assert!(summary.records <= records && summary.records > records * 9 / 10);
    let grown = memory_kib()
        .zip(early)
        .map_or(0, |(late, early)| late.saturating_sub(early));
    (rate, grown)
}

#[test]
fn reading_needs_no_more_memory_for_a_longer_log() {
    let (rate, grown) = read_many(300_000);
    println!("{rate:.0} records a second, memory grew by {grown} KiB");
    assert!(grown < 4096, "{grown} KiB");
}

#[test]
#[ignore = "ten million records; run with: cargo test -p risertrim-tests --test record_memory ten_million -- --ignored --nocapture"]
fn ten_million_records_are_read_in_constant_memory() {
    let (rate, grown) = read_many(10_000_000);
    println!("10 000 000 records: {rate:.0} a second, memory grew by {grown} KiB after the first million");
    assert!(grown < 4096, "{grown} KiB");
}
