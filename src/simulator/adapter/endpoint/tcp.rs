//! A TCP port as serial device, as network adapters offer it.

use std::{
    io::{self, ErrorKind, Read, Write},
    net::{TcpListener, TcpStream},
    time::Duration,
};

use super::{
    behind::Behind,
    serve::{Endpoint, Line},
};
use crate::clock::Clock;

/// Address of a free port that only this machine can reach.
const ANY_PORT: &str = "127.0.0.1:0";

/// Opens an adapter or a trace on a free port of this machine; [`Endpoint::address`] is host and port.
///
/// # Errors
/// When no port or no thread can be had.
pub fn open_tcp(behind: impl Into<Behind>, clock: Clock) -> io::Result<Endpoint> {
    open_tcp_at(ANY_PORT, behind, clock)
}

/// Opens an adapter or a trace at `host:port`; port 0 takes a free one.
///
/// # Errors
/// When this machine has no such address, the port is taken, or no thread can be had.
pub fn open_tcp_at(address: &str, behind: impl Into<Behind>, clock: Clock) -> io::Result<Endpoint> {
    let listener = TcpListener::bind(address)?;
    listener.set_nonblocking(true)?;
    let address = listener.local_addr()?.to_string();
    let line = Tcp {
        listener,
        stream: None,
    };
    Endpoint::start(address, line, behind.into(), clock)
}

/// One client at a time; when it goes, the next may come.
struct Tcp {
    listener: TcpListener,
    stream: Option<TcpStream>,
}

impl Tcp {
    fn accept(&mut self, wait: Duration) -> io::Result<()> {
        match self.listener.accept() {
            Ok((stream, _)) => {
                stream.set_nonblocking(false)?;
                stream.set_nodelay(true)?;
                self.stream = Some(stream);
            }
            Err(error) if error.kind() == ErrorKind::WouldBlock => {
                std::thread::sleep(wait.min(Duration::from_millis(5)));
            }
            Err(error) => return Err(error),
        }
        Ok(())
    }
}

impl Line for Tcp {
    fn read(&mut self, buffer: &mut [u8], wait: Duration) -> io::Result<usize> {
        let Some(stream) = &mut self.stream else {
            self.accept(wait)?;
            return Ok(0);
        };
        // A time-out of zero would mean none.
        stream.set_read_timeout(Some(wait.max(Duration::from_micros(200))))?;
        match stream.read(buffer) {
            Ok(0) => self.stream = None,
            Ok(count) => return Ok(count),
            Err(error) => match error.kind() {
                ErrorKind::WouldBlock | ErrorKind::TimedOut | ErrorKind::Interrupted => {}
                _ => self.stream = None,
            },
        }
        Ok(0)
    }

    fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
        let failed = self
            .stream
            .as_mut()
            .is_some_and(|stream| stream.write_all(bytes).is_err());
        if failed {
            self.stream = None;
        }
        Ok(())
    }
}
