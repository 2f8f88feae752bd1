//! A controller of a shipped place, stepped with whatever the bytes say: readings, clock, commands and saved state.
#![no_main]
#![forbid(unsafe_code)]

use libfuzzer_sys::fuzz_target;
use risertrim::controller::Learned;
use risertrim::{Command, Controller, Millis, Opening, Reading, Readings, WaterFlow};
use risertrim_sim::scenario::{HostInstallation, LIFTS, Scenario, TANKS};
use std::sync::OnceLock;

/// Steps of one input at most: more tell nothing new and make every input slow.
const MOST_STEPS: usize = 400;

fn places() -> &'static [HostInstallation] {
    static PLACES: OnceLock<Vec<HostInstallation>> = OnceLock::new();
    PLACES.get_or_init(|| {
        Scenario::shipped()
            .iter()
            .filter_map(|(name, text)| Scenario::parse(name, text).ok().map(|scenario| scenario.told))
            .collect()
    })
}

/// Takes bytes from the front; zero when there are no more.
struct Bytes<'a>(&'a [u8]);

impl Bytes<'_> {
    fn byte(&mut self) -> u8 {
        let Some((first, rest)) = self.0.split_first() else {
            return 0;
        };
        self.0 = rest;
        *first
    }

    /// Any bits at all.
    fn wild(&mut self) -> f32 {
        f32::from_bits(u32::from_le_bytes([self.byte(), self.byte(), self.byte(), self.byte()]))
    }
}

fuzz_target!(|data: &[u8]| {
    let mut bytes = Bytes(data);
    let places = places();
    let place = &places[usize::from(bytes.byte()) % places.len()];
    let mut saved = Vec::new();
    if bytes.byte() % 4 == 0 {
        for _ in &place.lifts {
            saved.push(Learned::new(bytes.wild(), bytes.wild(), Opening::new(bytes.wild())));
        }
    }
    let Ok(mut controller) = Controller::<LIFTS, TANKS>::new(place, &saved) else {
        panic!("a shipped place is accepted");
    };
    let mut now = Millis(u32::from(bytes.byte()) << 24);
    let settings = &place.settings;
    for _ in 0..MOST_STEPS {
        if bytes.0.is_empty() {
            break;
        }
        let kind = bytes.byte();
        now = now.plus(match kind & 3 {
            0 | 1 => settings.period_ms,
            2 => u32::from(bytes.byte()) * 100,
            _ => u32::from(bytes.byte()) << 24,
        });
        if kind & 0x3c == 0x3c {
            let lift = bytes.byte() % 16;
            let command = match bytes.byte() % 10 {
                0 => Command::Target {
                    lift,
                    flow: WaterFlow::from_m3_s(bytes.wild()),
                },
                1 => Command::Manual {
                    lift,
                    opening: Opening::new(bytes.wild()),
                },
                2 => Command::Automatic { lift },
                3 => Command::OutOfService { lift },
                4 => Command::Commission { lift },
                5 => Command::EssentialAir(bytes.byte() & 1 == 0),
                6 => Command::OnBackup(bytes.byte() & 1 == 0),
                7 => Command::Acknowledge,
                8 => Command::ResetLatched,
                _ => Command::Silence { minutes: bytes.byte() },
            };
            let _ = controller.command(command);
        }
        let mut readings = Readings::<TANKS> {
            now,
            levels: levels(place, &mut bytes, kind),
            manifold: Reading::Missing,
        };
        if kind & 0x40 != 0 {
            readings.manifold = Reading::Value(bytes.wild());
        }
        let step = controller.step(&readings);
        assert_eq!(step.lifts.len(), place.lifts.len());
        for lift in &step.lifts {
            let command = lift.command.share();
            assert!(command >= settings.least_opening && command <= settings.most_opening, "{command}");
            assert!(lift.air.m3_s.is_finite() && lift.flow.m3_s.is_finite() && lift.delivery.is_finite());
            assert!(lift.delivery_sigma.is_finite() && lift.target.m3_s.is_finite());
        }
        assert!(step.tanks.iter().all(|tank| tank.level_m.is_finite() && tank.sigma_m.is_finite()));
        assert!(step.manifold_pa.is_finite());
    }
});

/// A level for each tank: a byte over its height, or wild bits, or none.
fn levels(place: &HostInstallation, bytes: &mut Bytes<'_>, kind: u8) -> heapless::Vec<Reading, TANKS> {
    let wild = kind & 0x80 != 0;
    place
        .tanks
        .iter()
        .map(|tank| match bytes.byte() {
            255 => Reading::Missing,
            _ if wild => Reading::Value(bytes.wild()),
            share => {
                let scale = &tank.sensor.scale;
                let level = tank.rim_m * 1.2 * f32::from(share) / 254.0;
                let part = (level - scale.level_low_m) / (scale.level_high_m - scale.level_low_m);
                Reading::Value(scale.raw_low + part * (scale.raw_high - scale.raw_low))
            }
        })
        .collect()
}
