//! Writes a seed corpus for every fuzz target into a folder (`scripts/fuzz-briefly` runs it): sound inputs made from the shipped places.

#![forbid(unsafe_code)]

use risertrim::frame::encode;
use risertrim::{Command, Millis, Reading, Readings, WaterFlow};
use risertrim_sim::scenario::Scenario;
use std::path::Path;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = std::env::args().nth(1).ok_or("give the folder to write into")?;
    let write = |target: &str, name: &str, bytes: &[u8]| -> std::io::Result<()> {
        let folder = Path::new(&folder).join(target);
        std::fs::create_dir_all(&folder)?;
        std::fs::write(folder.join(name), bytes)
    };
    for (number, (name, text)) in Scenario::shipped().iter().enumerate() {
        write("scenario", &format!("{name}.toml"), text.as_bytes())?;
        let scenario = Scenario::parse(name, text).map_err(|report| report.to_string())?;
        let mut room = [0u8; 8192];
        let bytes = postcard::to_slice(&scenario.told, &mut room).map_err(|error| error.to_string())?;
        write("installation", name, bytes)?;
        // Place, no saved state, clock, then steady steps with levels at two thirds.
        let mut steps = vec![u8::try_from(number)?, 1, 0];
        for step in 0_u8..60 {
            steps.push(if step == 30 { 0x3c } else { 0x40 });
            if step == 30 {
                steps.extend([0, 2]);
            }
            steps.extend(scenario.told.tanks.iter().map(|_| 140));
            if step != 30 {
                steps.extend(12_000.0_f32.to_le_bytes());
            }
        }
        write("step", name, &steps)?;
        let mut stream = Vec::new();
        let mut frame = [0u8; 512];
        let mut readings = Readings::<6> {
            now: Millis(1000),
            levels: [0.66_f32; 4].map(Reading::Value).into_iter().collect(),
            manifold: Reading::Missing,
        };
        for second in 1..6 {
            readings.now = Millis(second * 1000);
            let length = encode(&readings, &mut frame).map_err(|error| format!("{error:?}"))?;
            stream.extend_from_slice(&frame[..length]);
        }
        let flow = WaterFlow::from_l_min(50.0);
        let length = encode(&Command::Target { lift: 1, flow }, &mut frame).map_err(|error| format!("{error:?}"))?;
        stream.extend_from_slice(&frame[..length]);
        write("frame", name, &stream)?;
    }
    Ok(())
}
