//! Our writer of postcard's encoding against postcard itself: the same bytes for everything that core sends or keeps.

use postcard::{take_from_bytes, to_slice};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed, TestRunner};
use risertrim::controller::Learned;
use risertrim::frame::{Crc32, FrameReader, Taken, encode, fingerprint, to_bytes};
use risertrim::link::{Answer, Ask, Hello, LogEntry, Reply, Request, Stepped};
use risertrim::record::{Header, Logged, Record, StepRecord};
use risertrim::{Command, Installation, Readings, Step};
use risertrim_sim::scenario::Scenario;
use serde::{Deserialize, Serialize, de::DeserializeOwned};
use std::cell::Cell;
use std::collections::BTreeMap;

/// What postcard makes of a value, and what ours makes of it in every way in which it is written: in a slice, framed, as a mark.
fn compare<T: Serialize>(value: &T) -> Result<(), TestCaseError> {
    let (mut theirs, mut ours, mut frame) = ([0; 8192], [0; 8192], [0; 8400]);
    let theirs = to_slice(value, &mut theirs).expect("8 KiB hold any of these");
    prop_assert_eq!(&*to_bytes(value, &mut ours).expect("as long as theirs"), &*theirs);
    prop_assert_eq!(fingerprint(value), Some(Crc32::of(theirs)));
    let length = encode(value, &mut frame).expect("8 KiB and what COBS adds");
    let mut reader = FrameReader::<8196>::new();
    let mut payload = None;
    for byte in frame.get(..length).unwrap_or_default() {
        if let Taken::Payload(taken) = reader.take(*byte) {
            payload = Some(taken.to_vec());
        }
    }
    prop_assert_eq!(payload.as_deref(), Some(&*theirs));
    // With too little room neither writes it.
    for room in 0..theirs.len() {
        if room % 7 == 0 || room + 2 > theirs.len() {
            prop_assert!(to_bytes(value, &mut ours[..room]).is_err());
        }
    }
    Ok(())
}

/// Bytes that are likely to be values: small numbers mostly, which are what enums, options and lengths begin with.
fn bytes() -> impl Strategy<Value = Vec<u8>> {
    (any::<u64>(), 1..1500usize, 130..=255u8, 2..=4u8).prop_map(|(seed, length, share, top)| {
        let mut state = seed;
        let byte = |_| {
            // Knuth's multiplier for a generator of 64 bits (The Art of Computer Programming, vol. 2, 3.3.4).
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            let [kind, any, ..] = state.to_be_bytes();
            if kind <= share { any % top } else { any }
        };
        (0..length).map(byte).collect()
    })
}

/// Every value that random bytes happen to be, written by both.
fn holds_for<T: Serialize + DeserializeOwned>(what: &str, cases: u32) {
    let config = Config {
        cases,
        rng_seed: RngSeed::Fixed(4),
        failure_persistence: None,
        ..Config::default()
    };
    let compared = Cell::new(0u32);
    TestRunner::new(config)
        .run(&bytes(), |bytes| match take_from_bytes::<T>(&bytes) {
            Ok((value, _)) => {
                compared.set(compared.get() + 1);
                compare(&value)
            }
            Err(_) => Ok(()),
        })
        .unwrap_or_else(|fault| panic!("{what}: {fault}"));
    println!("{what}: {} values compared", compared.get());
    assert!(compared.get() >= 20, "{what}: only {} values", compared.get());
}

#[test]
fn every_record_and_frame_is_written_as_postcard_writes_it() {
    holds_for::<(u16, Record<3, 4>)>("records", 40_000);
    holds_for::<StepRecord<3, 4>>("steps in the log", 40_000);
    holds_for::<Header>("headers", 40_000);
    holds_for::<Logged>("plans", 40_000);
    holds_for::<Step<3, 4>>("steps", 40_000);
    holds_for::<Readings<4>>("readings", 10_000);
    holds_for::<Command>("commands", 10_000);
    holds_for::<[Learned; 3]>("what was learned", 10_000);
    holds_for::<Request<4>>("requests", 40_000);
    holds_for::<Ask<4>>("questions", 40_000);
    holds_for::<Reply<3, 4>>("replies", 40_000);
    holds_for::<Answer<3, 4>>("answers", 40_000);
    holds_for::<Hello>("hellos", 40_000);
    holds_for::<Stepped<3, 4>>("steps on the line", 40_000);
    holds_for::<LogEntry>("entries of the board's log", 40_000);
    holds_for::<Installation<3, 4>>("installations", 100_000);
}

#[test]
fn every_shipped_installation_is_written_as_postcard_writes_it() {
    for (name, _) in Scenario::shipped() {
        let told = Scenario::by_name_or_path(name)
            .unwrap_or_else(|report| panic!("{report}"))
            .told;
        compare(&told).unwrap_or_else(|fault| panic!("{name}: {fault}"));
    }
}

/// Every shape that serde knows and ours writes.
#[derive(Clone, Debug, Serialize, Deserialize)]
enum Shape {
    Unit,
    New(Box<Shape>),
    Pair(u8, i8),
    Numbers {
        small: (u16, i16),
        middle: (u32, i32),
        large: (u64, i64),
        length: usize,
    },
    Floats(f32, f64, bool),
    Text(char, String),
    Maybe(Option<u32>, Option<()>),
    Many(Vec<u16>),
    Named(BTreeMap<u16, String>),
    Empty(Nothing, Wrapped),
}

#[derive(Clone, Debug, Serialize, Deserialize)]
struct Nothing;

#[derive(Clone, Debug, Serialize, Deserialize)]
struct Wrapped(i64);

fn shapes() -> impl Strategy<Value = Shape> {
    let leaf = prop_oneof![
        Just(Shape::Unit),
        any::<(u8, i8)>().prop_map(|(a, b)| Shape::Pair(a, b)),
        any::<((u16, i16), (u32, i32), (u64, i64), usize, u8)>().prop_map(|(small, middle, large, length, shift)| {
            // Numbers of every length, not only long ones.
            Shape::Numbers {
                small: (small.0 >> (shift % 16), small.1 >> (shift % 16)),
                middle: (middle.0 >> (shift % 32), middle.1 >> (shift % 32)),
                large: (large.0 >> (shift % 64), large.1 >> (shift % 64)),
                length: length >> (shift % 64),
            }
        }),
        any::<(u32, u64, bool)>().prop_map(|(a, b, c)| Shape::Floats(f32::from_bits(a), f64::from_bits(b), c)),
        (any::<char>(), ".{0,200}").prop_map(|(a, b)| Shape::Text(a, b)),
        any::<(Option<u32>, Option<()>)>().prop_map(|(a, b)| Shape::Maybe(a, b)),
        prop::collection::vec(any::<u16>(), 0..300).prop_map(Shape::Many),
        prop::collection::btree_map(any::<u16>(), ".{0,9}", 0..40).prop_map(Shape::Named),
        any::<i64>().prop_map(|number| Shape::Empty(Nothing, Wrapped(number))),
    ];
    leaf.prop_recursive(3, 4, 1, |inner| inner.prop_map(|shape| Shape::New(Box::new(shape))))
}

proptest! {
    #![proptest_config(Config { cases: 4000, rng_seed: RngSeed::Fixed(5), failure_persistence: None, ..Config::default() })]

    #[test]
    fn every_shape_is_written_as_postcard_writes_it(shape in shapes()) {
        compare(&shape)?;
    }
}

#[test]
fn the_ends_of_every_kind_of_number_are_written_as_postcard_writes_them() {
    for shift in 0..64u32 {
        for near in [0u64, 1, u64::MAX] {
            let number = (1u64 << shift).wrapping_add(near);
            #[allow(clippy::cast_possible_truncation)] // the low parts are what is meant
            let (short, middle) = (number as u16, number as u32);
            compare(&(
                number,
                number.cast_signed(),
                middle,
                middle.cast_signed(),
                short,
                short.cast_signed(),
            ))
            .unwrap_or_else(|fault| panic!("{number}: {fault}"));
        }
    }
}

/// The worked examples of postcard's published specification, "Wire Format", sections on varints and zigzag (from memory of the
/// document: 127, 128, 16383, 16384 and 65535 as u16; 0, -1, 1, 63, -64, 64, -65, 32767 and -32768 as i16).
#[test]
fn numbers_are_written_as_the_specification_says() {
    let mut room = [0; 8];
    let unsigned: [(u16, &[u8]); 6] = [
        (0, &[0x00]),
        (127, &[0x7F]),
        (128, &[0x80, 0x01]),
        (16_383, &[0xFF, 0x7F]),
        (16_384, &[0x80, 0x80, 0x01]),
        (65_535, &[0xFF, 0xFF, 0x03]),
    ];
    for (number, bytes) in unsigned {
        assert_eq!(to_bytes(&number, &mut room).expect("3 bytes"), bytes, "{number}");
    }
    let signed: [(i16, &[u8]); 9] = [
        (0, &[0x00]),
        (-1, &[0x01]),
        (1, &[0x02]),
        (63, &[0x7E]),
        (-64, &[0x7F]),
        (64, &[0x80, 0x01]),
        (-65, &[0x81, 0x01]),
        (32_767, &[0xFE, 0xFF, 0x03]),
        (-32_768, &[0xFF, 0xFF, 0x03]),
    ];
    for (number, bytes) in signed {
        assert_eq!(to_bytes(&number, &mut room).expect("3 bytes"), bytes, "{number}");
    }
}
