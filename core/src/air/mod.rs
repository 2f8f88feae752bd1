//! The air side: blower, manifold, valves and lines, and who gets air when there is not enough.
//!
//! The same equations run both ways. Given openings, [`Feed, Manifold::settle`] finds the manifold pressure and the air of each
//! lift, so that a valve at a limit or in manual is just a prediction made with the real opening. Given wanted airs,
//! [`Manifold::feed_forward`] finds the openings, which is what keeps a move of one valve from disturbing the others.

mod blower;
mod branch;
mod manifold;
mod path;
mod running;
mod setting;
mod shares;
mod valve;

pub use blower::{AirSupply, BLOWER_POINTS, Backup, Bleed, BlowerPoint, Drive};
pub use branch::Branch;
pub use manifold::{Feed, Manifold, Settled};
pub use path::{Diffuser, Line, Path};
pub use running::{Running, power_w};
pub use setting::{Demand, Setting};
pub use shares::{Claim, share_out};
pub use valve::{CHARACTERISTIC_POINTS, Characteristic, Valve, ValvePoint, flow_function, flow_into_path};
