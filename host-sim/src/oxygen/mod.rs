//! Oxygen: what the fish need, what the water can hold, what the air of the lifts brings, and so the least air of a lift.
//!
//! | file | what |
//! | --- | --- |
//! | `saturation` | dissolved oxygen at saturation (Benson & Krause 1984) |
//! | `demand` | what fish and bacteria use |
//! | `transfer` | what a lift's air gives to the water, and the air floor |
//! | `stripping` | carbon dioxide taken out, as guidance |
//!
//! Saturation is published physics, good to 0.1 %. Everything else here is common practice with a spread of a third and
//! more either way: a first figure for the air floor, to be checked with a dissolved-oxygen meter at the worst hour.

mod demand;
mod saturation;
mod stripping;
mod transfer;

pub use demand::{Demand, Stock, WHOLE_SYSTEM_KG_KG};
pub use saturation::{LEAST_C, MOST_C, saturation_mg_l};
pub use stripping::{Stripping, stripping};
pub use transfer::{AirFloor, BETA, GAS_WARNING_PERCENT, OxygenTransfer, air_floor, total_gas_percent};
