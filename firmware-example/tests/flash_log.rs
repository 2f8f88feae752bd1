//! The log on flash at every moment the power can go.

#[allow(dead_code)] // each file uses a part of it
mod fake;
#[allow(dead_code)] // shared with the tests of the store
mod flash;

use fake::FakeBoard;
use flash::{Flash, TORN, Torn};
use risertrim::Millis;
use risertrim::frame::{FrameReader, Taken, decode, encode};
use risertrim::record::{Plan, Record, ResetCause};
use risertrim_firmware::{App, FlashLog, FlashLogKeeper, KeptLog, LogSink, RamLog, SerialLog, StoreError, log_hours};
use std::ops::Range;

type Chip = Flash<8, 256>;
type Filling = heapless::Vec<u8, 32>;
const PAGES: usize = 5;
/// What the head of a page decodes to.
const HEAD: u32 = u32::MAX;

/// A frame that carries a number, of a length that depends on it.
fn frame(number: u32) -> Vec<u8> {
    let mut filling = Filling::new();
    filling
        .resize_default(usize::try_from(number % 23).expect("small"))
        .expect("room");
    let mut room = [0u8; 64];
    let length = encode(&(number, filling), &mut room).expect("room");
    room[..length].to_vec()
}

fn head() -> Vec<u8> {
    let mut room = [0u8; 64];
    let length = encode(&(HEAD, Filling::new()), &mut room).expect("room");
    room[..length].to_vec()
}

/// Numbers in the log, and how many frames were damaged.
fn read(log: &mut FlashLog<Chip>, piece: usize) -> (Vec<u32>, u32) {
    let mut reader = FrameReader::<128>::new();
    let mut numbers = Vec::new();
    let mut cursor = log.oldest();
    let mut room = vec![0u8; piece];
    loop {
        let count = log.read(&mut cursor, &mut room).expect("the flash answers");
        if count == 0 {
            break;
        }
        for byte in &room[..count] {
            if let Taken::Payload(payload) = reader.take(*byte) {
                let (number, _) = decode::<(u32, Filling)>(payload).expect("an intact frame is one of ours");
                numbers.push(number);
            }
        }
    }
    (numbers, reader.damaged())
}

fn without_heads(numbers: &[u32]) -> Vec<u32> {
    numbers.iter().copied().filter(|number| *number != HEAD).collect()
}

/// Appends frames until the power goes; gives the flash and those that were answered.
fn append(chip: Chip, numbers: Range<u32>) -> (Chip, Vec<u32>) {
    let Ok(mut log) = FlashLog::open(chip.clone()) else {
        // The power went while a torn frame was being closed.
        return (chip, Vec::new());
    };
    let mut answered = Vec::new();
    for number in numbers {
        if log.append(&frame(number), &head()).is_ok() {
            answered.push(number);
        } else {
            break;
        }
    }
    (log.release(), answered)
}

fn is_run(numbers: &[u32]) -> bool {
    numbers.windows(2).all(|pair| pair[1] == pair[0] + 1)
}

#[test]
fn the_log_keeps_the_newest_frames_and_every_page_begins_with_its_head() {
    let (chip, answered) = append(Chip::blank(PAGES), 0..300);
    assert_eq!(answered.len(), 300);
    for piece in [1, 7, 64, 500] {
        let mut log = FlashLog::open(chip.clone()).expect("as before");
        let (numbers, damaged) = read(&mut log, piece);
        assert_eq!(damaged, 0);
        assert_eq!(numbers.first(), Some(&HEAD), "what is left can be read by itself");
        assert_eq!(numbers.iter().filter(|number| **number == HEAD).count(), PAGES);
        let kept = without_heads(&numbers);
        assert!(is_run(&kept) && kept.last() == Some(&299), "{kept:?}");
        // Four pages and more of 232 bytes, frames of 8 to 40.
        assert!(kept.len() > 4 * 232 / 40, "{}", kept.len());
    }
}

#[test]
fn a_log_goes_on_where_it_was_after_a_restart() {
    let (mut chip, mut number) = (Chip::blank(PAGES), 0);
    for _ in 0..40 {
        let (next, answered) = append(chip, number..number + 3);
        number += u32::try_from(answered.len()).expect("small");
        chip = next;
    }
    let kept = without_heads(&read(&mut FlashLog::open(chip).expect("as before"), 64).0);
    assert!(is_run(&kept) && kept.last() == Some(&119), "{kept:?}");
}

#[test]
fn power_cut_at_every_write_of_the_log_costs_the_frame_being_written_and_no_other() {
    let (whole, _) = append(Chip::blank(PAGES), 0..90);
    assert!(whole.erasures.iter().all(|times| *times >= 2), "{:?}", whole.erasures);
    for cut in 0..whole.operations {
        for torn in TORN {
            for seed in 1..3 {
                let (chip, before) = append(Chip::blank(PAGES).cut_after(cut, torn, seed * 104_729 + cut), 0..90);
                // A second cut soon after the first, then a third start.
                let (chip, between) = append(chip.on_again().cut_after(cut % 29, Torn::Half, cut + 3), 200..203);
                let (chip, after) = append(chip.on_again(), 400..404);
                assert_eq!(after, [400, 401, 402, 403]);
                let mut log = FlashLog::open(chip).expect("as before");
                let (numbers, damaged) = read(&mut log, 50);
                let kept = without_heads(&numbers);
                let context = format!("cut after {cut} ({torn:?}, {seed}): {kept:?}");
                // What was answered is there in its order; a frame that was not may be there too (it was written, but not
                // answered); only the oldest may have made room.
                let answered: Vec<u32> = [before, between, after].concat();
                let from = answered.iter().position(|number| Some(number) == kept.first());
                let expected = from.map_or(&answered[..], |from| &answered[from..]);
                let surplus: Vec<&u32> = kept.iter().filter(|number| !expected.contains(number)).collect();
                let of_ours: Vec<u32> = kept
                    .iter()
                    .copied()
                    .filter(|number| expected.contains(number))
                    .collect();
                assert_eq!(of_ours, expected, "{context}");
                assert!(surplus.len() <= 2 && kept.is_sorted(), "{context}");
                assert!(kept.len() >= 4 + 2 * 232 / 40 || answered.len() < 25, "{context}");
                assert!(damaged <= 6, "{context}: {damaged} damaged");
            }
        }
    }
}

#[test]
fn the_oldest_page_goes_first_and_pages_wear_alike() {
    let (chip, _) = append(Chip::blank(PAGES), 0..2000);
    let (least, most) = (
        chip.erasures.iter().min().expect("five"),
        chip.erasures.iter().max().expect("five"),
    );
    assert!(most - least <= 1, "{:?}", chip.erasures);
}

#[test]
fn reading_goes_on_while_the_log_overwrites_what_was_to_be_read() {
    let (chip, _) = append(Chip::blank(PAGES), 0..100);
    let mut log = FlashLog::open(chip).expect("as before");
    let mut cursor = log.oldest();
    let mut room = [0u8; 40];
    let mut reader = FrameReader::<128>::new();
    let mut numbers = Vec::new();
    for number in 100.. {
        let count = log.read(&mut cursor, &mut room).expect("the flash answers");
        if count == 0 && number > 400 {
            break;
        }
        for byte in &room[..count] {
            if let Taken::Payload(payload) = reader.take(*byte) {
                numbers.push(decode::<(u32, Filling)>(payload).expect("ours").0);
            }
        }
        // Faster than it is read, at first.
        if number < 400 {
            log.append(&frame(number), &head()).expect("room");
            log.append(&frame(number + 1000), &head()).expect("room");
        }
    }
    assert!(numbers.contains(&1399), "it came to the end");
}

#[test]
fn a_frame_longer_than_a_page_and_a_flash_of_two_pages_are_refused() {
    let mut log = FlashLog::open(Chip::blank(PAGES)).expect("large enough");
    assert_eq!(log.append(&[1; 233], &[]), Err(StoreError::TooBig));
    assert_eq!(log.append(&frame(1), &head()), Ok(()));
    assert_eq!(
        FlashLog::open(Chip::blank(2)).expect_err("too small"),
        StoreError::TooSmall(768)
    );
}

#[test]
fn a_page_that_takes_no_writes_is_passed_over() {
    let mut chip = Chip::blank(PAGES);
    chip.worn = vec![2];
    let (chip, answered) = append(chip, 0..200);
    assert_eq!(answered.len(), 200);
    let kept = without_heads(&read(&mut FlashLog::open(chip).expect("as before"), 64).0);
    assert!(is_run(&kept) && kept.last() == Some(&199), "{kept:?}");
}

#[test]
fn the_log_in_memory_drops_the_oldest_frames_whole() {
    let mut log = RamLog::<200>::new();
    for number in 0..100 {
        log.push(&frame(number));
    }
    let mut reader = FrameReader::<128>::new();
    let mut kept = Vec::new();
    for byte in log.bytes() {
        match reader.take(byte) {
            Taken::Payload(payload) => kept.push(decode::<(u32, Filling)>(payload).expect("ours").0),
            Taken::Damaged(damage) => panic!("{damage:?}"),
            Taken::Nothing => {}
        }
    }
    assert!(
        is_run(&kept) && kept.last() == Some(&99) && kept.len() >= 200 / 40,
        "{kept:?}"
    );
    assert_eq!(log.dropped(), 100 - u32::try_from(kept.len()).expect("small"));
    // Frames are taken out one by one, as they are moved to flash or sent.
    let mut room = [0u8; 64];
    let length = log.take(&mut room).expect("not empty");
    assert_eq!(&room[..length], frame(kept[0]).as_slice());
    log.push(&[1; 20]);
    log.push(&[0; 300]);
    assert_eq!(
        log.dropped(),
        102 - u32::try_from(kept.len()).expect("small"),
        "no frame, and one longer than the log"
    );
    while log.take(&mut room).is_some() {}
    assert_eq!(log.bytes().count(), 0);
}

#[test]
fn how_far_a_log_goes_back_is_as_reckoned() {
    // 128 KiB in pages of 4 KiB at 2 KiB an hour: 62 hours and the page being filled.
    assert!((log_hours(128 * 1024, 4096, 2048) - 62.0).abs() < 1.0e-3);
}

/// A flash that an application writes its records to: four pages of 4 KiB, some 25 steps each.
type LogChip = Flash<4, 4096>;
type Logging = KeptLog<{ fake::LIFTS }, { fake::TANKS }, 1024, FlashLogKeeper<LogChip>>;
const LOG_PAGES: usize = 4;

/// What is read of a log: the records with their numbers, and the frames that were damaged.
struct Read {
    records: Vec<(u16, Record<{ fake::LIFTS }, { fake::TANKS }>)>,
    damaged: u32,
}

fn read_records(chip: LogChip) -> Read {
    let mut log = FlashLog::open(chip).expect("large enough");
    let mut reader = FrameReader::<1024>::new();
    let mut records = Vec::new();
    let mut room = [0u8; 100];
    let mut from = 0;
    loop {
        let piece = log.read_at(from, &mut room).expect("the flash answers");
        if piece.bytes == 0 {
            break;
        }
        from = piece.next;
        for byte in &room[..piece.bytes] {
            if let Taken::Payload(payload) = reader.take(*byte) {
                let (number, record, _) = risertrim::record::read(payload).expect("an intact frame is a record");
                records.push((number, record));
            }
        }
    }
    Read {
        records,
        damaged: reader.damaged(),
    }
}

/// An application that records every step, run for so many periods; gives its flash back.
fn recorded(chip: LogChip, cause: ResetCause, steps: u32) -> LogChip {
    let mut board = FakeBoard::<false>::at(Millis(0));
    board.cause = cause;
    let log = Logging::new(Plan::WHOLE, "a board of this test", FlashLogKeeper::new(chip));
    let mut app = App::with_log(log);
    app.start(&mut board, fake::built_in(fake::installation()));
    for _ in 0..steps {
        assert!(app.poll(&mut board), "a log that fails does not hold up a step");
        board.now = board.now.plus(fake::PERIOD_MS);
    }
    app.log_mut().sink_mut().take_flash().expect("it was opened")
}

#[test]
fn a_board_records_itself_on_flash_and_every_page_can_be_read_by_itself() {
    let chip = recorded(LogChip::blank(LOG_PAGES), ResetCause::PowerOn, 400);
    assert!(chip.erasures.iter().all(|times| *times >= 2), "{:?}", chip.erasures);
    let read = read_records(chip);
    assert_eq!(read.damaged, 0);
    let numbers: Vec<u16> = read.records.iter().map(|(number, _)| *number).collect();
    assert!(
        numbers.windows(2).all(|pair| pair[1] == pair[0] + 1),
        "none is missing: {numbers:?}"
    );
    // A header stands near the front of every page: within the records of one step.
    let headers: Vec<usize> = (0..read.records.len())
        .filter(|at| matches!(read.records[*at].1, Record::Header(_)))
        .collect();
    assert_eq!(headers.len(), LOG_PAGES, "{headers:?}");
    assert!(headers[0] <= 3, "{headers:?}");
    let steps = read
        .records
        .iter()
        .filter(|(_, record)| matches!(record, Record::Step(_)));
    let steps = steps.count();
    assert!(steps >= 30, "three pages and more: {steps} steps");
}

#[test]
fn power_cut_at_any_write_costs_a_board_the_records_being_written_and_no_others() {
    let whole = recorded(LogChip::blank(LOG_PAGES), ResetCause::PowerOn, 120);
    let mut cuts = 0;
    for cut in (0..whole.operations).step_by(61) {
        let torn = TORN[usize::try_from(cut % 3).expect("small")];
        let chip = LogChip::blank(LOG_PAGES).cut_after(cut, torn, 7 * cut + 1);
        let before = recorded(chip, ResetCause::PowerOn, 120);
        let kept = read_records(before.clone().on_again()).records;
        let chip = recorded(before.on_again(), ResetCause::BrownOut, 10);
        let read = read_records(chip);
        let context = format!("cut after {cut} ({torn:?})");
        assert!(read.damaged <= 2, "{context}: {} damaged", read.damaged);
        // All that was whole when the power went is there still, but for a page that had to make room.
        let last = read.records.iter().rposition(|(_, record)| is_start(record));
        let (still, after) = read
            .records
            .split_at(last.unwrap_or_else(|| panic!("{context}: no start")));
        assert!(kept.ends_with(still), "{context}");
        assert!(
            kept.len() - still.len() <= 70,
            "{context}: {} of {}",
            still.len(),
            kept.len()
        );
        let steps = after.iter().filter(|(_, record)| matches!(record, Record::Step(_)));
        assert_eq!(steps.count(), 10, "{context}");
        cuts += 1;
    }
    assert!(cuts > 50, "{cuts}");
}

fn is_start<const L: usize, const T: usize>(record: &Record<L, T>) -> bool {
    matches!(record, Record::Header(header) if matches!(header.began, risertrim::record::Began::Started(_)))
}

#[test]
fn a_board_sends_its_log_on_a_port_of_its_own_and_what_does_not_fit_is_told() {
    let run = |a_time: usize| {
        let mut board = FakeBoard::<false>::at(Millis(0));
        board.log_port = a_time;
        let log =
            KeptLog::<{ fake::LIFTS }, { fake::TANKS }, 1024, _>::new(Plan::WHOLE, "test", SerialLog::<2048>::new());
        let mut app = App::with_log(log);
        app.start(&mut board, fake::built_in(fake::installation()));
        for _ in 0..300 {
            assert!(app.poll(&mut board));
            board.now = board.now.plus(fake::PERIOD_MS);
        }
        let mut reader = FrameReader::<1024>::new();
        let mut records = Vec::new();
        for byte in &board.logged {
            if let Taken::Payload(payload) = reader.take(*byte) {
                records.push(
                    risertrim::record::read::<{ fake::LIFTS }, { fake::TANKS }>(payload)
                        .expect("a record")
                        .1,
                );
            }
        }
        assert_eq!(reader.damaged(), 0, "a frame goes out whole, however small the pieces");
        let steps = records
            .iter()
            .filter(|record| matches!(record, Record::Step(_)))
            .count();
        let gaps = records.iter().filter(|record| matches!(record, Record::Gap(_))).count();
        (steps, gaps)
    };
    // 960 bytes a second: the line is quicker than the log; in pieces of 20 bytes it is not.
    let (steps, gaps) = run(960);
    assert!(steps >= 298 && gaps == 0, "{steps} steps, {gaps} gaps");
    let (steps, gaps) = run(20);
    assert!((5..150).contains(&steps) && gaps >= 5, "{steps} steps, {gaps} gaps");
}

#[test]
fn a_log_whose_flash_could_not_be_read_once_goes_on_with_the_next_record() {
    use risertrim::record::Sink;
    let (mut chip, _) = append(Chip::blank(PAGES), 0..20);
    chip.stumbles = 1;
    let mut keeper = FlashLogKeeper::new(chip);
    assert!(keeper.put(&frame(20)).is_err());
    assert!(keeper.put(&frame(21)).is_ok());
    let chip = keeper.take_flash().expect("it was kept");
    let numbers = without_heads(&read(&mut FlashLog::open(chip).expect("as before"), 64).0);
    assert_eq!(numbers.last(), Some(&21));
    assert!(numbers.contains(&19));
}
