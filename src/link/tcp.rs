//! Network adapters: the same bytes over TCP.

use std::{io, time::Duration};

use tokio::{net::TcpStream, time::timeout};

use super::error::OpenError;
use crate::io_words;

/// Longest wait for the connection, in real time.
const CONNECT_WAIT: Duration = Duration::from_secs(5);

/// Connects to `host:port`. Small writes go out at once: waiting for more would cost 40 ms a request.
pub(super) async fn open(address: &str) -> Result<TcpStream, OpenError> {
    let connected = timeout(CONNECT_WAIT, TcpStream::connect(address))
        .await
        .unwrap_or_else(|_| Err(io::Error::from(io::ErrorKind::TimedOut)));
    let stream = connected.map_err(|error| sorted(&error))?;
    stream
        .set_nodelay(true)
        .map_err(|error| OpenError::Other(io_words::problem(&error)))?;
    Ok(stream)
}

/// Sorts what the system says. A name that is not found has no kind and no number of its own.
fn sorted(error: &io::Error) -> OpenError {
    match error.kind() {
        io::ErrorKind::ConnectionRefused => OpenError::Unreachable("connection refused".to_owned()),
        io::ErrorKind::TimedOut => OpenError::Unreachable("no answer within 5 s".to_owned()),
        _ if error.raw_os_error().is_none() => OpenError::UnknownHost,
        _ => OpenError::Unreachable(io_words::problem(error)),
    }
}
