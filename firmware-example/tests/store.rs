//! The store keeps its promise at every moment the power can go.

#[allow(dead_code)] // shared with the tests of the application
mod fake;
#[allow(dead_code)] // shared with the tests of the log
mod flash;

use flash::{Flash, TORN, Torn};
use risertrim::controller::Learned;
use risertrim::frame::fingerprint;
use risertrim::{Installation, Opening, WaterFlow};
use risertrim_firmware::{Item, Keeper, Store, StoreError, Stored, Unkept};

type Chip = Flash<8, 512>;
type OurStore = Store<Chip, 1024>;
const OURS: u32 = 0xCAFE_0001;
/// Two slots of three pages for installations, three pages for learned state.
const PAGES: usize = 9;

fn learned(round: u16) -> Vec<Learned> {
    (0..5u16)
        .map(|lift| {
            Learned::new(
                0.5 + f32::from(round) * 0.001 + f32::from(lift) * 0.1,
                0.01 + f32::from(round) * 0.0001,
                Opening::new(f32::from(round) / 1000.0),
            )
        })
        .collect()
}

fn load(store: &mut OurStore, fingerprint: u32) -> Stored<Vec<Learned>> {
    match store.load_learned::<8>(fingerprint).expect("the flash answers") {
        Stored::Found(learned) => Stored::Found(learned.to_vec()),
        Stored::Nothing => Stored::Nothing,
        Stored::NotOurs => Stored::NotOurs,
    }
}

fn place(number: u16) -> Installation<{ fake::LIFTS }, { fake::TANKS }> {
    let mut place = fake::installation();
    for lift in &mut place.lifts {
        lift.target = WaterFlow::from_l_min(10.0 + f32::from(number));
    }
    place
}

fn committed(store: &mut OurStore) -> Option<Installation<{ fake::LIFTS }, { fake::TANKS }>> {
    match store.load_installation().expect("the flash answers") {
        Stored::Found(installation) => Some(installation),
        Stored::Nothing => None,
        Stored::NotOurs => panic!("it is ours"),
    }
}

#[test]
fn a_blank_flash_holds_nothing_and_what_is_stored_is_there_after_a_restart() {
    let mut store = OurStore::open(Chip::blank(PAGES)).expect("large enough");
    assert_eq!(load(&mut store, OURS), Stored::Nothing);
    assert_eq!(committed(&mut store), None);
    store.save_learned(OURS, &learned(1)).expect("room");
    store.put_installation(&place(1)).expect("room");
    store.commit().expect("on trial");
    let mut store = OurStore::open(store.release()).expect("as before");
    assert_eq!(load(&mut store, OURS), Stored::Found(learned(1)));
    assert_eq!(committed(&mut store), Some(place(1)));
}

#[test]
fn what_another_installation_learned_is_not_given_out() {
    let mut store = OurStore::open(Chip::blank(PAGES)).expect("large enough");
    store.save_learned(1, &learned(1)).expect("room");
    assert_eq!(load(&mut store, 2), Stored::NotOurs);
    store.save_learned(2, &learned(2)).expect("room");
    assert_eq!(
        load(&mut store, 1),
        Stored::Found(learned(1)),
        "back to the installation before, as after a revert"
    );
    assert_eq!(load(&mut store, 2), Stored::Found(learned(2)));
    assert_ne!(
        fingerprint(&place(1)),
        fingerprint(&place(2)),
        "a changed target is another installation"
    );
}

#[test]
fn more_lifts_than_this_program_knows_are_not_ours_and_never_a_panic() {
    let mut store = OurStore::open(Chip::blank(PAGES)).expect("large enough");
    store.save_learned(OURS, &learned(1)).expect("room");
    store.put_installation(&place(1)).expect("room");
    store.commit().expect("on trial");
    assert_eq!(
        store.load_learned::<4>(OURS).expect("the flash answers"),
        Stored::NotOurs
    );
    assert_eq!(
        store.load_installation::<1, 1>().expect("the flash answers"),
        Stored::NotOurs
    );
}

#[test]
fn an_installation_on_trial_is_gone_after_a_restart_or_a_revert() {
    let mut store = OurStore::open(Chip::blank(PAGES)).expect("large enough");
    assert_eq!(store.commit(), Err(StoreError::NothingOnTrial));
    store.put_installation(&place(1)).expect("room");
    store.commit().expect("on trial");
    store.put_installation(&place(2)).expect("room");
    assert!(store.on_trial());
    let mut store = OurStore::open(store.release()).expect("as before");
    assert_eq!(committed(&mut store), Some(place(1)), "a restart during the trial");
    store.put_installation(&place(3)).expect("room");
    store.revert();
    assert_eq!(store.commit(), Err(StoreError::NothingOnTrial));
    assert_eq!(committed(&mut store), Some(place(1)));
    store.put_installation(&place(4)).expect("room");
    store.commit().expect("on trial");
    assert_eq!(committed(&mut store), Some(place(4)));
    let mut store = OurStore::open(store.release()).expect("as before");
    assert_eq!(committed(&mut store), Some(place(4)));
}

/// Saves round after round until the power goes; gives the flash and the last round that was answered.
fn save_rounds(chip: Chip, rounds: std::ops::Range<u16>) -> (Chip, Option<u16>) {
    let mut answered = None;
    let mut store = match OurStore::open(chip) {
        Ok(store) => store,
        Err(error) => panic!("opening writes nothing, so the power cannot go: {error}"),
    };
    for round in rounds {
        match store.save_learned(OURS, &learned(round)) {
            Ok(()) => answered = Some(round),
            Err(_) => break,
        }
    }
    (store.release(), answered)
}

#[test]
fn power_cut_at_every_write_of_learned_state_leaves_the_newest_or_the_one_before() {
    // 18 rounds: twice round all three pages.
    let (whole, _) = save_rounds(Chip::blank(PAGES), 1..40);
    assert!(whole.erasures.iter().sum::<u32>() >= 6);
    let mut seen_both = (false, false);
    for cut in 0..whole.operations {
        for torn in TORN {
            for seed in 1..4 {
                let (chip, answered) = save_rounds(Chip::blank(PAGES).cut_after(cut, torn, seed * 7919 + cut), 1..40);
                assert!(chip.is_dead());
                let begun = answered.map_or(1, |round| round + 1);
                let mut store = OurStore::open(chip.on_again()).expect("the power is back");
                let found = match load(&mut store, OURS) {
                    Stored::Nothing if answered.is_none() => None,
                    Stored::Found(found) if Some(&found) == answered.map(learned).as_ref() => answered,
                    Stored::Found(found) if found == learned(begun) => Some(begun),
                    other => panic!("cut after {cut} ({torn:?}, {seed}): {other:?} after round {answered:?}"),
                };
                seen_both.0 |= found.is_some() && found == answered;
                seen_both.1 |= found == Some(begun);
                // And it goes on from there, also over another cut in the very next saves.
                let (chip, later) = save_rounds(store.release().cut_after(cut % 37, Torn::Half, cut + seed), 50..55);
                let mut store = OurStore::open(chip.on_again()).expect("the power is back");
                let expected = later.or(found);
                match load(&mut store, OURS) {
                    Stored::Nothing => assert_eq!(expected, None),
                    Stored::Found(found) => {
                        let next = later.map_or(50, |round| round + 1);
                        assert!(
                            expected.is_some_and(|round| found == learned(round)) || found == learned(next),
                            "second cut after {cut} ({torn:?}, {seed})"
                        );
                    }
                    Stored::NotOurs => panic!("it is ours"),
                }
            }
        }
    }
    assert!(seen_both.0 && seen_both.1, "both outcomes were met");
}

/// Puts and commits installations 1, 2, 3..., every third only on trial; gives what was committed last for certain, and what was being
/// committed when the power went.
fn change_places(chip: Chip) -> (Chip, Option<u16>, Option<u16>) {
    let mut store = OurStore::open(chip).expect("opening writes nothing");
    let mut sure = None;
    for number in 1..10u16 {
        if store.put_installation(&place(number)).is_err() {
            return (store.release(), sure, None);
        }
        if number % 3 == 0 {
            store.revert();
            continue;
        }
        if store.commit().is_err() {
            return (store.release(), sure, Some(number));
        }
        sure = Some(number);
    }
    (store.release(), sure, None)
}

#[test]
fn power_cut_at_every_write_of_an_installation_leaves_the_new_one_or_the_one_before() {
    let (whole, _, _) = change_places(Chip::blank(PAGES));
    for cut in 0..whole.operations {
        for torn in TORN {
            let (chip, sure, perhaps) = change_places(Chip::blank(PAGES).cut_after(cut, torn, cut * 31 + 5));
            let mut store = OurStore::open(chip.on_again()).expect("the power is back");
            let found = committed(&mut store);
            assert!(
                found == sure.map(place) || (perhaps.is_some() && found == perhaps.map(place)),
                "cut after {cut} ({torn:?}): neither {sure:?} nor {perhaps:?}"
            );
            // The next change goes through.
            store.put_installation(&place(77)).expect("room");
            store.commit().expect("on trial");
            let mut store = OurStore::open(store.release()).expect("as before");
            assert_eq!(committed(&mut store), Some(place(77)));
        }
    }
}

#[test]
fn pages_wear_alike_and_as_reckoned() {
    let mut store = OurStore::open(Chip::blank(PAGES)).expect("large enough");
    for round in 0..3000 {
        store.save_learned(OURS, &learned(round)).expect("room");
    }
    let chip = store.release();
    let worn = &chip.erasures[6..];
    assert!(
        worn.iter().max().expect("three") - worn.iter().min().expect("three") <= 1,
        "{worn:?}"
    );
    // 5 lifts of 21 bytes while nothing is known of fouling, one for their number, 20 of frame: 126, in words of 8: 128. Four of them
    // fit into 512 bytes.
    let reckoned = risertrim_firmware::erases_a_year(128, 600, 512, 3);
    let rounds_a_year = 31_557_600.0 / 600.0;
    let met = f64::from(worn[0]) / 3000.0 * rounds_a_year;
    assert!(
        (met / f64::from(reckoned) - 1.0).abs() < 0.01,
        "{met} against {reckoned}"
    );
}

#[test]
fn a_page_that_takes_no_writes_is_passed_over() {
    let mut chip = Chip::blank(PAGES);
    chip.worn = vec![7];
    let mut store = OurStore::open(chip).expect("large enough");
    for round in 0..40 {
        store.save_learned(OURS, &learned(round)).expect("two pages are left");
        assert_eq!(load(&mut store, OURS), Stored::Found(learned(round)));
    }
    let mut chip = Chip::blank(PAGES);
    chip.worn = vec![6, 7, 8];
    let mut store = OurStore::open(chip).expect("large enough");
    assert_eq!(store.save_learned(OURS, &learned(0)), Err(StoreError::WornOut));
}

#[test]
fn a_flash_too_small_or_of_a_kind_that_does_not_suit_is_refused_with_what_is_needed() {
    let error = OurStore::open(Chip::blank(7)).expect_err("too small");
    assert_eq!(error, StoreError::TooSmall(8 * 512));
    assert!(error.to_string().contains("4096 bytes"));
    assert_eq!(
        Store::<_, 1024>::open(Flash::<128, 512>::blank(20)).expect_err("words too long"),
        StoreError::Unsuitable
    );
    // Words of 1 and of 64 bytes do.
    assert!(Store::<_, 1024>::open(Flash::<1, 512>::blank(20)).is_ok());
    assert!(Store::<_, 1024>::open(Flash::<64, 512>::blank(20)).is_ok());
}

#[test]
fn a_value_too_big_for_the_room_is_refused_and_what_was_there_stays() {
    let mut store = Store::<_, 160>::open(Chip::blank(PAGES)).expect("large enough");
    store
        .save_learned(OURS, &learned(1))
        .expect("room for five lifts, not for ten");
    assert_eq!(
        store.save_learned(OURS, &[learned(2), learned(3)].concat()),
        Err(StoreError::TooBig)
    );
    assert_eq!(store.put_installation(&place(1)), Err(StoreError::TooBig));
    match store.load_learned::<8>(OURS).expect("the flash answers") {
        Stored::Found(found) => assert_eq!(found.to_vec(), learned(1)),
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_flash_full_of_anything_else_is_taken_over() {
    let mut chip = Chip::blank(PAGES);
    let mut noise = 12345u32;
    for byte in &mut chip.bytes {
        noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        *byte = noise.to_le_bytes()[3];
    }
    let mut store = OurStore::open(chip).expect("large enough");
    assert_eq!(load(&mut store, OURS), Stored::Nothing);
    for round in 0..40 {
        store
            .save_learned(OURS, &learned(round))
            .expect("pages are erased in their turn");
    }
    store.put_installation(&place(5)).expect("room");
    store.commit().expect("on trial");
    let mut store = OurStore::open(store.release()).expect("as before");
    assert_eq!(load(&mut store, OURS), Stored::Found(learned(39)));
    assert_eq!(committed(&mut store), Some(place(5)));
}

#[test]
fn a_single_flipped_bit_never_gives_a_wrong_value() {
    let mut store = OurStore::open(Chip::blank(PAGES)).expect("large enough");
    store.save_learned(OURS, &learned(1)).expect("room");
    store.save_learned(OURS, &learned(2)).expect("room");
    let chip = store.release();
    let learned_from = 6 * 512;
    for bit in 0..8 * 2 * 88 {
        let mut chip = chip.clone();
        chip.bytes[learned_from + bit / 8] ^= 1 << (bit % 8);
        let mut store = OurStore::open(chip).expect("as before");
        match load(&mut store, OURS) {
            Stored::Found(found) => assert!(found == learned(1) || found == learned(2), "bit {bit}"),
            other => panic!("bit {bit}: {other:?}"),
        }
    }
}

fn newest(store: &mut OurStore, item: Item) -> Option<Vec<u8>> {
    let mut room = [0u8; 600];
    let length = store.load_bytes(item, &mut room).expect("the flash answers")?;
    Some(room[..length].to_vec())
}

#[test]
fn bytes_of_a_board_are_kept_by_item_and_an_installation_can_be_taken_back_once() {
    let mut store = OurStore::open(Chip::blank(PAGES)).expect("large enough");
    assert_eq!(newest(&mut store, Item::Installation), None);
    assert_eq!(newest(&mut store, Item::Learned), None);
    assert_eq!(store.go_back(Item::Installation), Ok(false));
    store.save_bytes(Item::Installation, &[1; 500]).expect("room");
    store.save_bytes(Item::Learned, &[7; 30]).expect("room");
    assert_eq!(
        store.go_back(Item::Installation),
        Ok(false),
        "there is none before the first"
    );
    store.save_bytes(Item::Installation, &[2; 400]).expect("room");
    let mut store = OurStore::open(store.release()).expect("as before");
    assert_eq!(newest(&mut store, Item::Installation), Some(vec![2; 400]));
    assert_eq!(store.go_back(Item::Installation), Ok(true));
    assert_eq!(store.go_back(Item::Installation), Ok(false));
    assert_eq!(store.go_back(Item::Learned), Ok(false));
    let mut store = OurStore::open(store.release()).expect("as before");
    assert_eq!(newest(&mut store, Item::Installation), Some(vec![1; 500]));
    assert_eq!(newest(&mut store, Item::Learned), Some(vec![7; 30]));
    assert_eq!(store.load_bytes(Item::Learned, &mut [0; 29]), Err(StoreError::TooBig));
    assert_eq!(store.save_bytes(Item::Learned, &[0; 2000]), Err(StoreError::TooBig));
}

/// Keeps installations 1 and 2, goes back to 1, keeps 3; gives what may be found after the power went.
fn take_back(chip: Chip) -> (Chip, Vec<Option<u8>>) {
    let mut store = OurStore::open(chip).expect("opening writes nothing");
    let mut last = None;
    for number in [1u8, 2, 0, 3] {
        let (done, next) = if number == 0 {
            (store.go_back(Item::Installation).is_ok(), Some(1))
        } else {
            (
                store.save_bytes(Item::Installation, &[number; 300]).is_ok(),
                Some(number),
            )
        };
        if !done {
            return (store.release(), vec![last, next]);
        }
        last = next;
    }
    (store.release(), vec![last])
}

#[test]
fn power_cut_at_every_write_of_a_step_back_leaves_the_newest_or_the_one_before() {
    let (whole, _) = take_back(Chip::blank(PAGES));
    for cut in 0..whole.operations {
        for torn in TORN {
            let (chip, allowed) = take_back(Chip::blank(PAGES).cut_after(cut, torn, cut * 17 + 3));
            let mut store = OurStore::open(chip.on_again()).expect("the power is back");
            let found = newest(&mut store, Item::Installation);
            let fits = |number: &Option<u8>| found == number.map(|number| vec![number; 300]);
            assert!(
                allowed.iter().any(fits),
                "cut after {cut} ({torn:?}): none of {allowed:?}"
            );
        }
    }
}

#[test]
fn a_flash_that_could_not_be_read_once_is_opened_at_the_next_use() {
    let mut store = OurStore::open(Chip::blank(PAGES)).expect("large enough");
    store.save_bytes(Item::Installation, &[1; 500]).expect("room");
    let kept = store.release();
    let mut reads = 0;
    loop {
        let mut chip = kept.clone();
        chip.stumbles = reads;
        let mut keeper = Keeper::<_, 1024>::new(chip);
        let mut room = [0; 600];
        // Each look ends at the first read that fails.
        for _ in 0..reads {
            assert_eq!(keeper.load(Item::Installation, &mut room), Err(Unkept::Failed));
        }
        assert_eq!(keeper.load(Item::Installation, &mut room), Ok(Some(500)));
        assert_eq!(
            keeper.load(Item::Learned, &mut room),
            Ok(None),
            "nothing kept is no error"
        );
        assert_eq!(keeper.save(Item::Learned, &[2; 30]), Ok(()));
        reads += 1;
        if reads > 3 {
            break;
        }
    }
}

#[test]
fn a_commitment_that_is_read_wrongly_once_counts_and_one_that_was_told_to_have_failed_does_not() {
    let (mut told_done, mut told_failed) = (0, 0);
    for reads_before in 0..40 {
        for stumbles in 1..=5 {
            let mut store = OurStore::open(Chip::blank(PAGES)).expect("large enough");
            store.save_bytes(Item::Installation, &[1; 300]).expect("room");
            let mut chip = store.release();
            let mut keeper = {
                // Behind what opening reads.
                let before = chip.reads;
                let opened = OurStore::open(chip).expect("as before");
                chip = opened.release();
                chip.reads_before = chip.reads - before + reads_before;
                chip.stumbles = stumbles;
                OurStore::open(chip).expect("as before")
            };
            let done = keeper.save_bytes(Item::Installation, &[2; 300]).is_ok();
            let mut chip = keeper.release();
            chip.stumbles = 0;
            let mut store = OurStore::open(chip).expect("as before");
            let expected = if done { 2 } else { 1 };
            assert_eq!(
                newest(&mut store, Item::Installation),
                Some(vec![expected; 300]),
                "{stumbles} reads fail after {reads_before}"
            );
            told_done += u32::from(done);
            told_failed += u32::from(!done);
        }
    }
    assert!(told_done > 0 && told_failed > 0, "{told_done} and {told_failed}");
}
