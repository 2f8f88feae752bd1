//! Bytes as a stream of frames: payloads come back as they were written, whatever stands between them.
#![no_main]
#![forbid(unsafe_code)]

use libfuzzer_sys::fuzz_target;
use risertrim::Command;
use risertrim::frame::{FrameReader, Taken, decode, encode_bytes, longest_frame};

/// Payload and checksum that the reader has room for.
const ROOM: usize = 256;

fuzz_target!(|data: &[u8]| {
    // As a stream: anything may come, nothing panics, and no byte is counted twice.
    let mut reader = FrameReader::<ROOM>::new();
    for byte in data {
        match reader.take(*byte) {
            Taken::Payload(payload) => {
                assert!(payload.len() + 4 <= ROOM);
                let _ = decode::<Command>(payload);
                let _ = decode::<risertrim::Readings<6>>(payload);
                let _ = decode::<risertrim::controller::Learned>(payload);
            }
            Taken::Damaged(damage) => assert!(damage.offset + damage.bytes <= data.len() as u64),
            Taken::Nothing => {}
        }
    }
    assert_eq!(reader.taken(), data.len() as u64);
    let _ = reader.finish();

    // As a payload behind rubbish: it comes back, once the rubbish is ended.
    let (rubbish, payload) = data.split_at(data.len() / 3);
    if payload.len() + 4 > ROOM {
        return;
    }
    let mut room = [0u8; longest_frame(ROOM)];
    let Ok(length) = encode_bytes(payload, &mut room) else {
        panic!("the longest frame fits");
    };
    let mut reader = FrameReader::<ROOM>::new();
    for byte in rubbish.iter().chain(&[0]) {
        let _ = reader.take(*byte);
    }
    let mut found = false;
    for byte in &room[..length] {
        if let Taken::Payload(back) = reader.take(*byte) {
            assert_eq!(back, payload);
            found = true;
        }
    }
    assert!(found);
});
