//! Limits and suspicions, and what is done about them.
//!
//! Order of duty: no tank floods or is drained; fish always have air; targets; least power; least wear. The first two meet
//! because a lift below its onset still aerates without moving water.

mod ageing;
mod backup;
mod gauge;
mod level;
mod oxygen;
mod proof;
mod seen;
mod trend;
mod trust;
mod water_sum;

pub use crate::condition::Condition;
pub use ageing::Ageing;
pub use backup::{GivenUp, LOOKS_EVERY_S, Reserve};
pub use gauge::{Gauge, GaugeView};
pub use level::{TankGuard, TankVerdict, TankView, doubt_m};
pub use oxygen::{minutes_left, saturation_mg_l};
pub use proof::{Fall, Hint, ProofStop, Proven, ZERO_DOUBT_M};
pub use seen::Seen;
pub use trend::{FOULING_COUNTS, Trend};
pub use trust::{Delivery, Doubt, Trust};
pub use water_sum::WaterSum;
