//! A board as what drives the valves of a simulation.

use super::client::Client;
use super::error::BoardError;
use super::wire::Wire;
use crate::simulate::{Control, ControlFailed, HostReadings, HostStep};
use risertrim::Command;
use risertrim::commission::Outcome;
use risertrim::link::{Answer, Ask};

/// A board in bench mode.
#[derive(Debug)]
pub struct BoardControl<W> {
    client: Client<W>,
    commissioned: Option<Outcome>,
}

impl<W: Wire> BoardControl<W> {
    /// Begins afresh on the installation that the board runs.
    ///
    /// # Errors
    /// The board was built without bench mode, has no installation, or does not answer.
    pub fn begin(mut client: Client<W>) -> Result<Self, BoardError> {
        client.tell(Ask::StartAfresh)?;
        Ok(Self {
            client,
            commissioned: None,
        })
    }

    /// The conversation with it.
    pub fn client_mut(&mut self) -> &mut Client<W> {
        &mut self.client
    }
}

impl<W: Wire> Control for BoardControl<W> {
    fn command(&mut self, command: Command) -> Result<(), ControlFailed> {
        Ok(self.client.tell(Ask::Command(command))?)
    }

    fn step(&mut self, readings: &HostReadings) -> Result<HostStep, ControlFailed> {
        match self.client.ask(Ask::Readings(readings.clone()))? {
            Answer::Step(stepped) => {
                self.commissioned = stepped.commissioned;
                Ok(stepped.step)
            }
            _ => Err(BoardError::WrongAnswer.into()),
        }
    }

    fn commissioned(&mut self) -> Option<Outcome> {
        self.commissioned.take()
    }
}
