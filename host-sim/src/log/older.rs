//! Records of older formats, as they were then; what has come since is filled in as unknown.

use crate::scenario::LIFTS;
use risertrim::Opening;
use risertrim::controller::Learned;
use risertrim::record::{Basis, LearnedRecord};
use serde::Deserialize;

/// Numbers of the kinds that were other than they are.
const LOADED: u32 = 2;
const LEARNED: u32 = 7;

/// What a lift had learned, up to format 2.
#[derive(Deserialize)]
struct LearnedOf2 {
    factor: f32,
    sigma: f32,
    opening: Opening,
}

type ListOf2 = heapless::Vec<LearnedOf2, LIFTS>;

fn lifts(list: &ListOf2) -> heapless::Vec<Learned, LIFTS> {
    list.iter()
        .map(|lift| Learned::new(lift.factor, lift.sigma, lift.opening))
        .collect()
}

/// A record that this version writes otherwise, and its number. No such bytes are a record of the present format: they are too short.
pub(super) fn read(payload: &[u8]) -> Option<(u16, super::HostRecord)> {
    let ((number, kind), rest) = postcard::take_from_bytes::<(u16, u32)>(payload).ok()?;
    let (record, rest) = match kind {
        LOADED => {
            let (list, rest) = postcard::take_from_bytes::<ListOf2>(rest).ok()?;
            (super::HostRecord::Loaded(lifts(&list)), rest)
        }
        LEARNED => {
            let ((basis, list), rest) = postcard::take_from_bytes::<(Basis, ListOf2)>(rest).ok()?;
            let lifts = lifts(&list);
            (super::HostRecord::Learned(LearnedRecord { basis, lifts }), rest)
        }
        _ => return None,
    };
    rest.is_empty().then_some((number, record))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::log::HostRecord;

    #[test]
    fn what_format_2_said_of_a_lift_is_read_and_what_came_since_is_unknown() {
        let old = postcard::to_stdvec(&(5u16, 2u32, [(0.875f32, 0.0625f32, 0.5f32)].as_slice())).expect("few bytes");
        // As RECORD.md showed it then, but for the record's number.
        assert_eq!(old[2..], [1, 0, 0, 0x60, 0x3F, 0, 0, 0x80, 0x3D, 0, 0, 0, 0x3F]);
        assert!(risertrim::record::read::<LIFTS, { crate::scenario::TANKS }>(&old).is_err());
        let Some((5, HostRecord::Loaded(lifts))) = read(&old) else {
            panic!("{:?}", read(&old));
        };
        assert_eq!(lifts.as_slice(), [Learned::new(0.875, 0.0625, Opening::new(0.5))]);
        assert_eq!(read(&[old.as_slice(), &[0]].concat()), None);
        assert_eq!(read(&old[..old.len() - 1]), None);
    }
}
