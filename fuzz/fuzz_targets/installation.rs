//! Bytes as an installation: refused or accepted without a panic, and what is accepted runs and comes back as it was.
#![no_main]
#![forbid(unsafe_code)]

use libfuzzer_sys::fuzz_target;
use risertrim::{Controller, Installation, Readings};

type Small = Installation<4, 5>;

fuzz_target!(|data: &[u8]| {
    let Ok(installation) = postcard::from_bytes::<Small>(data) else {
        return;
    };
    let mut room = [0u8; 8192];
    let Ok(bytes) = postcard::to_slice(&installation, &mut room) else {
        return;
    };
    let again = postcard::from_bytes::<Small>(bytes);
    // Compared as bytes: what is no number is not equal to itself.
    let mut second = [0u8; 8192];
    let second = again.ok().and_then(|again| postcard::to_slice(&again, &mut second).ok().map(|bytes| bytes.to_vec()));
    assert_eq!(second.as_deref(), Some(&*bytes));
    if let Ok(mut controller) = Controller::<4, 5>::new(&installation, &[]) {
        for second in 0..20 {
            let step = controller.step(&Readings {
                now: risertrim::Millis(second * installation.settings.period_ms),
                ..Readings::default()
            });
            for lift in &step.lifts {
                assert!(lift.command.share() >= 0.0 && lift.command.share() <= 1.0);
                assert!(lift.air.m3_s.is_finite() && lift.flow.m3_s.is_finite());
            }
        }
    }
});
