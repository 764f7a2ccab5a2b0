//! An open line to the adapter: bytes out, bytes in.

use std::{io, time::Duration};

use tokio::{
    io::{AsyncReadExt, AsyncWriteExt},
    net::TcpStream,
    time::timeout,
};
use tokio_serial::SerialStream;

use super::{device::Device, error::OpenError, serial, tcp};

/// Longest wait for the line to take a few bytes, in real time: a line that does not is stuck.
const WRITE_WAIT: Duration = Duration::from_secs(2);

/// An open line. Its output is never flushed or shut down: on a serial device that blocks the whole thread until the
/// last bit is out.
#[derive(Debug)]
pub(super) enum Line {
    /// A serial device or a pseudo-terminal.
    Serial(SerialStream),
    /// A network adapter.
    Network(TcpStream),
}

impl Line {
    /// Opens the device, a serial one at this speed.
    pub async fn open(device: &Device, baud: Option<u32>) -> Result<Self, OpenError> {
        match device {
            Device::Serial { path, .. } => serial::open(path, baud).map(Self::Serial),
            Device::Network(address) => tcp::open(address).await.map(Self::Network),
        }
    }

    /// Waits for bytes. Dropping the future loses none.
    ///
    /// # Errors
    /// When the device is gone, also where the system only reports an end of the data.
    pub async fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = match self {
            Self::Serial(stream) => stream.read(buffer).await,
            Self::Network(stream) => stream.read(buffer).await,
        };
        match count {
            Ok(0) => {
                let words = match self {
                    Self::Serial(_) => "device disconnected",
                    Self::Network(_) => "connection closed",
                };
                Err(io::Error::new(io::ErrorKind::UnexpectedEof, words))
            }
            other => other,
        }
    }

    /// Sends at once as many bytes as the line takes without waiting; how many.
    pub fn write_now(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match self {
            Self::Serial(stream) => stream.try_write(bytes),
            Self::Network(stream) => stream.try_write(bytes),
        }
    }

    /// Sends all bytes.
    pub async fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
        let write = async {
            match self {
                Self::Serial(stream) => stream.write_all(bytes).await,
                Self::Network(stream) => stream.write_all(bytes).await,
            }
        };
        timeout(WRITE_WAIT, write)
            .await
            .unwrap_or_else(|_| Err(io::Error::other("it no longer takes bytes")))
    }
}
