//! Bytes to and from a board.

use std::fmt::Debug;
use std::io::{self, ErrorKind, Read, Write};
use std::net::{TcpStream, ToSocketAddrs};
use std::time::Duration;

/// A line to a board.
pub trait Wire: Debug + Send {
    /// Sends all of these bytes.
    ///
    /// # Errors
    /// The line is gone.
    fn send(&mut self, bytes: &[u8]) -> io::Result<()>;

    /// Waits up to `patience` for bytes, puts what came at the start of `room` and gives its number; 0 when nothing came.
    ///
    /// # Errors
    /// The line is gone.
    fn receive(&mut self, room: &mut [u8], patience: Duration) -> io::Result<usize>;
}

impl Wire for Box<dyn Wire> {
    fn send(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.as_mut().send(bytes)
    }

    fn receive(&mut self, room: &mut [u8], patience: Duration) -> io::Result<usize> {
        self.as_mut().receive(room, patience)
    }
}

/// A socket.
#[derive(Debug)]
pub struct Tcp(TcpStream);

impl Tcp {
    /// Connects to `HOST:PORT`.
    ///
    /// # Errors
    /// Nobody listens there.
    pub fn connect(address: &str, patience: Duration) -> io::Result<Self> {
        let mut last = io::Error::new(ErrorKind::NotFound, "the name has no address");
        for address in address.to_socket_addrs()? {
            match TcpStream::connect_timeout(&address, patience) {
                Ok(stream) => {
                    stream.set_nodelay(true)?;
                    return Ok(Self(stream));
                }
                Err(error) => last = error,
            }
        }
        Err(last)
    }
}

impl Wire for Tcp {
    fn send(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.0.write_all(bytes)
    }

    fn receive(&mut self, room: &mut [u8], patience: Duration) -> io::Result<usize> {
        self.0.set_read_timeout(Some(patience))?;
        match self.0.read(room) {
            Ok(0) => Err(ErrorKind::UnexpectedEof.into()),
            other => nothing_is_not_an_error(other),
        }
    }
}

/// A serial port.
#[derive(Debug)]
pub struct Serial(Box<dyn serialport::SerialPort>);

impl Serial {
    /// Opens a port by its name (`/dev/ttyACM0`, `COM3`), 8 bits, no parity, one stop bit.
    ///
    /// # Errors
    /// There is no such port, or it is in use.
    pub fn open(port: &str, baud: u32) -> io::Result<Self> {
        Ok(Self(serialport::new(port, baud).open()?))
    }
}

impl Wire for Serial {
    fn send(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.0.write_all(bytes)
    }

    fn receive(&mut self, room: &mut [u8], patience: Duration) -> io::Result<usize> {
        self.0.set_timeout(patience)?;
        nothing_is_not_an_error(self.0.read(room))
    }
}

fn nothing_is_not_an_error(read: io::Result<usize>) -> io::Result<usize> {
    match read {
        Err(error)
            if matches!(
                error.kind(),
                ErrorKind::WouldBlock | ErrorKind::TimedOut | ErrorKind::Interrupted
            ) =>
        {
            Ok(0)
        }
        other => other,
    }
}
