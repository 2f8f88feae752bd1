//! An installation to a board and back.

use super::client::Client;
use super::error::BoardError;
use super::wire::Wire;
use crate::scenario::HostInstallation;
use risertrim::frame::{Crc32, decode};
use risertrim::link::{Answer, Ask, Hello, Not, PART};

/// Sends an installation: the board checks it, keeps it beside the one before, and runs it without a bump. With an error the
/// one before is kept and runs.
///
/// # Errors
/// The board has no room for it, finds faults in it, or cannot keep it; or the line fails.
pub fn send_installation<W: Wire>(
    client: &mut Client<W>,
    hello: &Hello,
    installation: &HostInstallation,
) -> Result<u32, BoardError> {
    let (lifts, tanks) = (installation.lifts.len(), installation.tanks.len());
    if lifts > usize::from(hello.lifts) || tanks > usize::from(hello.tanks) {
        return Err(BoardError::TooLarge {
            lifts,
            tanks,
            room_lifts: hello.lifts,
            room_tanks: hello.tanks,
        });
    }
    let bytes = postcard::to_stdvec(installation).map_err(|_| BoardError::NotAnInstallation)?;
    let fingerprint = Crc32::of(&bytes);
    let length = u32::try_from(bytes.len()).map_err(|_| BoardError::Not(Not::TooLarge))?;
    client.tell(Ask::PutBegin {
        bytes: length,
        fingerprint,
    })?;
    let mut offset = 0;
    for chunk in bytes.chunks(PART) {
        let part: heapless::Vec<u8, PART> = chunk.iter().copied().collect();
        client.tell(Ask::PutPart { offset, part })?;
        offset += u32::try_from(chunk.len()).unwrap_or(0);
    }
    client.tell(Ask::PutCommit)?;
    Ok(fingerprint)
}

/// Reads the installation that the board runs.
///
/// # Errors
/// The board has none, or the line fails.
pub fn fetch_installation<W: Wire>(client: &mut Client<W>) -> Result<HostInstallation, BoardError> {
    let mut whole = Vec::new();
    loop {
        let offset = u32::try_from(whole.len()).map_err(|_| BoardError::NotAnInstallation)?;
        let Answer::Part { bytes, part, .. } = client.ask(Ask::Get { offset })? else {
            return Err(BoardError::WrongAnswer);
        };
        whole.extend_from_slice(&part);
        if part.is_empty() || u32::try_from(whole.len()).is_ok_and(|have| have >= bytes) {
            break;
        }
    }
    decode(&whole).map_err(|_| BoardError::NotAnInstallation)
}
