//! What people say to a board that runs: commands, with the names of its place.

use super::super::failure::Failure;
use super::tell::Telling;
use risertrim::Command;
use risertrim::link::{Ask, Hello};
use risertrim_sim::board::{Client, Wire, fetch_installation};
use risertrim_sim::scenario::HostInstallation;

/// Tells the board one after the other; what stands before one that is refused was done.
pub fn tell(client: &mut Client<Box<dyn Wire>>, told: Vec<(&Telling, Command, String)>) -> Result<(), Failure> {
    for (telling, command, done) in told {
        client
            .tell(Ask::Command(command))
            .map_err(|error| Failure::Internal(format!("the board was told \"{}\": {error}", telling.words)))?;
        eprintln!("the board took it: {done}");
    }
    Ok(())
}

/// Names are of use only where the board runs the place they are of: with another one they would move the wrong lift.
pub fn same_lifts(client: &mut Client<Box<dyn Wire>>, hello: &Hello, told: &HostInstallation) -> Result<(), Failure> {
    if hello.fingerprint.is_none() || hello.fingerprint == risertrim::frame::fingerprint(told) {
        return Ok(());
    }
    // A trial changes outlets and curves, not what is mounted where.
    let runs = fetch_installation(client)?;
    let mounted = |place: &HostInstallation| -> Vec<_> {
        let lifts = place.lifts.iter();
        lifts.map(|lift| (lift.from, lift.to, lift.riser)).collect()
    };
    if runs.tanks.len() == told.tanks.len() && mounted(&runs) == mounted(told) {
        return Ok(());
    }
    Err(Failure::BadInput(
        "the board runs another place than this file, so its names may mean other lifts: give the file that was sent last, or \
         leave it out and give numbers"
            .to_owned(),
    ))
}
