//! Damage loses what it touches and no more, and is told.

use crate::reading::{entries, replay};
use risertrim::frame::{FrameReader, Taken};
use risertrim::record::Plan;
use risertrim_sim::log::{Entry, LogError, LogReader, Start, Summary, What};
use risertrim_tests::logs::log_of;

/// A quarter of a minute of a small place, small enough to be harmed in every way.
fn small() -> Vec<u8> {
    log_of("one_lift", 0.004, Plan::WHOLE)
}

/// The frames of a log that is intact: where each begins, and where the next.
fn frames(log: &[u8]) -> Vec<(usize, usize)> {
    let mut begin = 0;
    let mut frames = Vec::new();
    for (at, byte) in log.iter().enumerate() {
        if *byte == 0 {
            frames.push((begin, at + 1));
            begin = at + 1;
        }
    }
    frames
}

/// What is read of a harmed log: the payloads of intact frames, and whether damage was told.
fn payloads(log: &[u8]) -> (Vec<Vec<u8>>, usize) {
    let mut reader = FrameReader::<4096>::new();
    let mut read = Vec::new();
    for byte in log {
        if let Taken::Payload(payload) = reader.take(*byte) {
            read.push(payload.to_vec());
        }
    }
    let _ = reader.finish();
    (read, reader.damaged() as usize)
}

/// Of the frames that were written, all but the touched are read, in order, nothing else is, and the damage is told.
fn check(written: &[Vec<u8>], touched: &[usize], harmed: &[u8], what: &str) {
    let (read, damaged) = payloads(harmed);
    let untouched: Vec<&Vec<u8>> = written
        .iter()
        .enumerate()
        .filter(|(index, _)| !touched.contains(index))
        .map(|(_, payload)| payload)
        .collect();
    let lost = written.len() - read.len().min(written.len());
    assert!(lost <= touched.len(), "{what}: {lost} lost, {touched:?} touched");
    let mut rest = written.iter();
    for payload in &read {
        assert!(
            rest.any(|known| known == payload),
            "{what}: something was read that was never written"
        );
    }
    for payload in untouched {
        assert!(read.contains(payload), "{what}: an untouched frame was lost");
    }
    assert!(lost == 0 || damaged > 0, "{what}: loss without a word");
}

#[test]
fn any_flipped_bit_lost_byte_or_added_byte_loses_only_what_it_touches_and_is_told() {
    let log = small();
    let (written, damaged) = payloads(&log);
    let frames = frames(&log);
    assert_eq!((written.len(), damaged), (frames.len(), 0));
    println!("{} bytes, {} frames", log.len(), frames.len());
    for (index, (begin, end)) in frames.iter().enumerate() {
        for at in *begin..*end {
            // A delimiter belongs to the frames on both of its sides.
            let touched = if at + 1 == *end {
                vec![index, index + 1]
            } else {
                vec![index]
            };
            for bit in 0..8 {
                let mut harmed = log.clone();
                harmed[at] ^= 1 << bit;
                check(&written, &touched, &harmed, &format!("bit {bit} of byte {at}"));
            }
            let mut harmed = log.clone();
            harmed.remove(at);
            check(&written, &touched, &harmed, &format!("without byte {at}"));
            for added in [0, 1, 0x7F, 0xFF, log[at]] {
                let mut harmed = log.clone();
                harmed.insert(at, added);
                check(&written, &touched, &harmed, &format!("{added} before byte {at}"));
            }
        }
    }
}

#[test]
fn a_log_cut_anywhere_gives_everything_before_the_cut_and_says_what_was_torn() {
    let log = small();
    let whole = entries(&log);
    for length in 1..log.len() {
        let cut = &log[..length];
        let complete = cut.iter().filter(|byte| **byte == 0).count();
        match LogReader::open(cut) {
            Err(LogError::NotALog { .. }) => assert_eq!(complete, 0, "{length}"),
            Err(error) => panic!("{length}: {error}"),
            Ok(reader) => {
                let read: Vec<Entry> = reader.collect::<Result<_, _>>().expect("readable");
                assert_eq!(read[..complete], whole[..complete], "{length}");
                let torn = read
                    .iter()
                    .filter(|entry| matches!(entry.what, What::Damaged(_)))
                    .count();
                assert_eq!(torn, usize::from(log[length - 1] != 0), "{length}");
                assert_eq!(read.len(), complete + torn, "{length}");
            }
        }
    }
}

#[test]
fn a_damaged_frame_is_told_by_its_place_and_the_record_by_its_absence() {
    let mut log = small();
    let (begin, end) = frames(&log)[9];
    log[begin + 2] ^= 0x10;
    let found = entries(&log);
    let place = found
        .iter()
        .find_map(|entry| match entry.what {
            What::Damaged(damage) => Some((damage.offset, damage.bytes)),
            _ => None,
        })
        .expect("told");
    assert_eq!(place, (begin as u64, (end - begin) as u64));
    assert!(found.iter().any(|entry| entry.what == What::Missing(1)));
    let mut summary = Summary::new();
    found.iter().for_each(|entry| summary.take(entry));
    assert_eq!(
        (summary.damage_count, summary.missing_records, summary.gap_count),
        (1, 1, 1)
    );
    let outcome = replay(&log, Start::Logged);
    assert!(!outcome.inexact.is_empty(), "a replay says that a record is missing");
}

#[test]
fn a_repeated_and_a_late_record_are_used_once() {
    let log = small();
    let frames = frames(&log);
    let piece = |index: usize| log[frames[index].0..frames[index].1].to_vec();
    let order = (0..12).chain([11, 11, 5]).chain(12..frames.len());
    let shuffled: Vec<u8> = order.flat_map(piece).collect();
    let repeated = entries(&shuffled)
        .iter()
        .filter(|entry| matches!(entry.what, What::Repeated(_)))
        .count();
    assert_eq!(repeated, 3);
    assert!(replay(&shuffled, Start::Logged).is_equal());
}

#[test]
fn files_that_are_no_logs_are_refused_with_the_reason() {
    assert!(matches!(LogReader::open(&b""[..]), Err(LogError::Empty)));
    let text = "time_s,lift\n0,1\n".repeat(200_000);
    let Err(LogError::NotALog { looked_at }) = LogReader::open(text.as_bytes()) else {
        panic!("text is no log");
    };
    assert!(looked_at < 2_000_000, "a long file is not read to its end: {looked_at}");
    let zeros = vec![0u8; 100_000];
    assert!(matches!(
        LogReader::open(zeros.as_slice()),
        Err(LogError::NotALog { .. })
    ));
    // A header of format 300, framed properly.
    let mut payload = vec![0, 0];
    payload.extend(risertrim::record::MAGIC);
    payload.extend([0xAC, 0x02, 9, 9, 9]);
    let mut room = [0; 64];
    let length = risertrim::frame::encode_bytes(&payload, &mut room).expect("64 bytes");
    let newer = LogReader::open(&room[..length]);
    assert!(
        matches!(newer, Err(LogError::Newer { format: 300, offset: 0 })),
        "{newer:?}"
    );
}
