use super::*;

extern crate std;
use std::vec::Vec;

/// Payloads and damage in a stream of bytes.
fn read(bytes: &[u8]) -> (Vec<Vec<u8>>, Vec<Damage>) {
    let mut reader = FrameReader::<600>::new();
    let (mut payloads, mut damage) = (Vec::new(), Vec::new());
    for byte in bytes {
        match reader.take(*byte) {
            Taken::Nothing => {}
            Taken::Payload(payload) => payloads.push(payload.to_vec()),
            Taken::Damaged(found) => damage.push(found),
        }
    }
    damage.extend(reader.finish());
    assert_eq!(reader.damaged() as usize, damage.len());
    (payloads, damage)
}

fn framed(payload: &[u8]) -> Vec<u8> {
    let mut room = [0; 700];
    let length = encode_bytes(payload, &mut room).expect("700 bytes are enough for these tests");
    assert!(length <= longest_frame(payload.len()));
    room[..length].to_vec()
}

/// What COBS makes of a frame's inside, without checksum: the reader's own idea of it, checked against published pairs.
fn unstuffed(stuffed: &[u8]) -> Vec<u8> {
    let mut reader = FrameReader::<600>::new();
    for byte in stuffed {
        let _ = reader.take(*byte);
    }
    reader.kept().expect("a published example is whole").to_vec()
}

#[test]
fn the_checksum_gives_the_published_check_value() {
    // Catalogue of parametrised CRC algorithms, CRC-32/ISO-HDLC.
    assert_eq!(Crc32::of(b"123456789"), 0xCBF4_3926);
    assert_eq!(Crc32::of(b""), 0);
    // The residue of a payload with its own checksum behind it is the same for all: 0xDEBB20E3 before the last inversion.
    let mut whole = b"123456789".to_vec();
    whole.extend(0xCBF4_3926u32.to_le_bytes());
    assert_eq!(!Crc32::of(&whole), 0xDEBB_20E3);
}

#[test]
fn stuffing_gives_the_published_examples() {
    // The eleven encoding examples of the article "Consistent Overhead Byte Stuffing" of Wikipedia, delimiter left out.
    let counting = |from: u8, to: u8| (from..=to).collect::<Vec<u8>>();
    let with = |before: &[u8], middle: Vec<u8>, after: &[u8]| [before, &middle, after].concat();
    let examples: [(Vec<u8>, Vec<u8>); 11] = [
        (std::vec![0], std::vec![1, 1]),
        (std::vec![0, 0], std::vec![1, 1, 1]),
        (std::vec![0, 0x11, 0], std::vec![1, 2, 0x11, 1]),
        (std::vec![0x11, 0x22, 0, 0x33], std::vec![3, 0x11, 0x22, 2, 0x33]),
        (std::vec![0x11, 0x22, 0x33, 0x44], std::vec![5, 0x11, 0x22, 0x33, 0x44]),
        (std::vec![0x11, 0, 0, 0], std::vec![2, 0x11, 1, 1, 1]),
        (counting(1, 0xFE), with(&[0xFF], counting(1, 0xFE), &[])),
        (counting(0, 0xFE), with(&[1, 0xFF], counting(1, 0xFE), &[])),
        (counting(1, 0xFF), with(&[0xFF], counting(1, 0xFE), &[2, 0xFF])),
        (
            with(&[], counting(2, 0xFF), &[0]),
            with(&[0xFF], counting(2, 0xFF), &[1, 1]),
        ),
        (
            with(&[], counting(3, 0xFF), &[0, 1]),
            with(&[0xFE], counting(3, 0xFF), &[2, 1]),
        ),
    ];
    for (plain, stuffed) in examples {
        assert_eq!(unstuffed(&stuffed), plain);
        assert_eq!(stuff(&plain), stuffed, "{plain:?}");
        // The writer puts four bytes of checksum behind.
        let frame = framed(&plain);
        let checked = [plain.as_slice(), &Crc32::of(&plain).to_le_bytes()].concat();
        assert_eq!(frame[..frame.len() - 1], stuff(&checked), "{plain:?}");
        assert_eq!(read(&frame), (std::vec![plain], std::vec![]));
    }
}

/// COBS as the paper states it, block by block: cut at zeros, each piece in blocks of 254.
fn stuff(plain: &[u8]) -> Vec<u8> {
    let mut out = Vec::new();
    let mut pieces = plain.split(|byte| *byte == 0).peekable();
    while let Some(piece) = pieces.next() {
        let mut rest = piece;
        while rest.len() >= 254 {
            out.push(0xFF);
            out.extend(&rest[..254]);
            rest = &rest[254..];
        }
        if !rest.is_empty() || piece.is_empty() || pieces.peek().is_some() {
            out.push(rest.len() as u8 + 1);
            out.extend(rest);
        }
    }
    out
}

#[test]
fn every_payload_comes_back_and_holds_no_delimiter() {
    for length in 0..520 {
        for kind in 0..4u32 {
            let payload: Vec<u8> = (0..length as u32)
                .map(|at| match kind {
                    0 => 0,
                    1 => 0xFF,
                    2 => (at.wrapping_mul(2_654_435_761) >> 13) as u8,
                    _ => (at % 256) as u8,
                })
                .collect();
            let frame = framed(&payload);
            assert_eq!(frame.iter().filter(|byte| **byte == 0).count(), 1);
            assert_eq!(read(&frame), (std::vec![payload], std::vec![]));
        }
    }
}

#[test]
fn a_frame_that_does_not_fit_is_refused_at_every_length() {
    let payload = [1, 0, 2, 0, 0, 9];
    let whole = framed(&payload);
    for length in 0..whole.len() {
        assert_eq!(encode_bytes(&payload, &mut std::vec![0; length]), Err(NoRoom));
        assert_eq!(encode(&payload, &mut std::vec![0; length]), Err(NoRoom));
    }
    let mut room = std::vec![0; whole.len()];
    assert_eq!(encode(&payload, &mut room), Ok(whole.len()));
    assert_eq!(room, whole, "an array of bytes is its own encoding");
}

/// Three frames and where each begins.
fn three() -> (Vec<Vec<u8>>, Vec<u8>) {
    let payloads: Vec<Vec<u8>> = [&b"level\0one"[..], b"\0\0", b"the third, a little longer"]
        .map(<[u8]>::to_vec)
        .into();
    let stream = payloads.iter().flat_map(|payload| framed(payload)).collect();
    (payloads, stream)
}

/// What was read must be some of what was written, in order, and at most two may be missing, with damage told.
fn only_touched_are_lost(stream: &[u8], what: &str) {
    let (payloads, _) = three();
    let (read, damage) = read(stream);
    let mut written = payloads.iter();
    for payload in &read {
        assert!(
            written.any(|known| known == payload),
            "{what}: {payload:?} was never written"
        );
    }
    let lost = payloads.len() - read.len();
    assert!(lost <= 2, "{what}: {lost} lost");
    assert!(lost == 0 || !damage.is_empty(), "{what}: loss without a word");
}

#[test]
fn any_flipped_bit_any_lost_byte_and_any_added_byte_costs_only_what_it_touches() {
    let (_, stream) = three();
    for at in 0..stream.len() {
        for bit in 0..8 {
            let mut harmed = stream.clone();
            harmed[at] ^= 1 << bit;
            only_touched_are_lost(&harmed, &std::format!("bit {bit} of {at}"));
        }
        let mut harmed = stream.clone();
        harmed.remove(at);
        // Without the very last delimiter the last frame is torn.
        only_touched_are_lost(&harmed, &std::format!("without {at}"));
        for added in 0..=255 {
            let mut harmed = stream.clone();
            harmed.insert(at, added);
            only_touched_are_lost(&harmed, &std::format!("{added} before {at}"));
        }
    }
}

#[test]
fn a_torn_stream_gives_what_came_whole_before() {
    let (payloads, stream) = three();
    for length in 0..stream.len() {
        let (read, damage) = read(&stream[..length]);
        let whole = stream[..length].iter().filter(|byte| **byte == 0).count();
        assert_eq!(read, payloads[..whole]);
        let ends_whole = length == 0 || stream[length - 1] == 0;
        assert_eq!(damage.is_empty(), ends_whole);
    }
}

#[test]
fn damage_is_told_with_its_place_and_length() {
    let (payloads, stream) = three();
    let first = framed(&payloads[0]).len();
    let second = framed(&payloads[1]).len();
    let mut harmed = stream;
    harmed[first + 3] ^= 0x40;
    let (read, damage) = read(&harmed);
    assert_eq!(read, [payloads[0].clone(), payloads[2].clone()]);
    assert_eq!(damage.len(), 1);
    assert_eq!((damage[0].offset, damage[0].bytes), (first as u64, second as u64));
}

#[test]
fn a_frame_longer_than_the_reader_is_lost_alone() {
    let mut reader = FrameReader::<12>::new();
    let long = framed(&[7; 40]);
    let mut seen = Vec::new();
    for byte in long.iter().chain(&framed(b"12345678")) {
        match reader.take(*byte) {
            Taken::Nothing => {}
            Taken::Payload(payload) => assert_eq!(payload, b"12345678"),
            Taken::Damaged(damage) => seen.push(damage),
        }
    }
    let expected = Damage {
        offset: 0,
        bytes: long.len() as u64,
        harm: Harm::TooLong,
    };
    assert_eq!(seen, [expected]);
}

#[test]
fn repeated_and_reordered_frames_are_read_as_they_come_and_idle_line_is_no_damage() {
    let (a, b) = (framed(b"a"), framed(b"b"));
    let (read, damage) = read(&[&[0, 0][..], &b, &a, &a, &[0], &b].concat());
    assert_eq!(read, [b"b", b"a", b"a", b"b"]);
    assert_eq!(damage, []);
}

#[test]
fn the_fingerprint_is_the_checksum_of_the_encoding() {
    let value = (3u8, -1i16, "text", [1.5f32, 2.5]);
    let mut room = [0; 64];
    let bytes = postcard::to_slice(&value, &mut room).expect("64 bytes are enough");
    assert_eq!(fingerprint(&value), Some(Crc32::of(bytes)));
}

#[test]
fn a_value_with_bytes_left_over_is_not_taken() {
    assert_eq!(decode::<u8>(&[7]), Ok(7));
    assert_eq!(decode::<u8>(&[7, 0]), Err(Undecodable));
    assert_eq!(decode::<u8>(&[]), Err(Undecodable));
}
