//! An installation survives the wire: postcard bytes out and in give the same value.

use risertrim::Installation;
use risertrim_sim::scenario::{LIFTS, Scenario, TANKS};

#[test]
fn every_shipped_installation_comes_back_from_its_postcard_bytes_unchanged() {
    for (name, _) in Scenario::shipped() {
        let told = Scenario::by_name_or_path(name)
            .unwrap_or_else(|report| panic!("{report}"))
            .told;
        let mut room = [0u8; 8192];
        let bytes = postcard::to_slice(&told, &mut room).expect("8 KiB hold any installation of ours");
        println!("{name}: {} bytes", bytes.len());
        let back: Installation<LIFTS, TANKS> = postcard::from_bytes(bytes).expect("its own bytes");
        assert_eq!(back, told, "{name}");
    }
}

#[test]
fn bytes_mean_the_same_at_another_capacity_and_too_small_a_capacity_refuses_them() {
    let told = Scenario::by_name_or_path("default")
        .unwrap_or_else(|report| panic!("{report}"))
        .told;
    let mut room = [0u8; 8192];
    let bytes = postcard::to_slice(&told, &mut room).expect("8 KiB hold any installation of ours");
    let small: Installation<3, 4> = postcard::from_bytes(bytes).expect("three lifts and four tanks fit");
    let mut again = [0u8; 8192];
    assert_eq!(postcard::to_slice(&small, &mut again).expect("as before"), bytes);
    assert!(
        postcard::from_bytes::<Installation<2, 4>>(bytes).is_err(),
        "three lifts do not fit into two"
    );
}

#[test]
fn truncated_bytes_are_an_error_and_never_a_panic() {
    let told = Scenario::by_name_or_path("one_lift")
        .unwrap_or_else(|report| panic!("{report}"))
        .told;
    let mut room = [0u8; 8192];
    let bytes = postcard::to_slice(&told, &mut room)
        .expect("8 KiB hold any installation of ours")
        .to_vec();
    for length in 0..bytes.len() {
        assert!(
            postcard::from_bytes::<Installation<LIFTS, TANKS>>(&bytes[..length]).is_err(),
            "{length} bytes"
        );
    }
}
