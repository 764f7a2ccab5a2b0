//! A pseudo-terminal as serial device.

use std::{fs::File, io, io::Write, os::fd::OwnedFd, time::Duration};

use rustix::{
    event::{PollFd, PollFlags, Timespec, poll},
    fs::{Mode, OFlags},
    io::{FdFlags, fcntl_setfd},
    pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt},
    termios::{OptionalActions, ioctl_tiocnxcl, tcgetattr, tcsetattr},
};

use super::{
    behind::Behind,
    serve::{Endpoint, Line},
};
use crate::clock::Clock;

/// Opens an adapter or a trace on a new pseudo-terminal; [`Endpoint::address`] is the path of its device.
///
/// # Errors
/// When the system has no pseudo-terminal to give, or no thread.
pub fn open_pty(behind: impl Into<Behind>, clock: Clock) -> io::Result<Endpoint> {
    let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY)?;
    // Not every system takes this flag when the terminal is opened.
    fcntl_setfd(&master, FdFlags::CLOEXEC)?;
    grantpt(&master)?;
    unlockpt(&master)?;
    // A fresh terminal is cooked and echoes: made raw before anybody opens the other end.
    let mut attributes = tcgetattr(&master)?;
    attributes.make_raw();
    tcsetattr(&master, OptionalActions::Now, &attributes)?;
    let path = ptsname(&master, Vec::new())?;
    let path = path
        .into_string()
        .map_err(|error| io::Error::other(error.to_string()))?;
    let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC;
    let slave = rustix::fs::open(path.as_str(), flags, Mode::empty())?;
    let line = Pty {
        master: File::from(master),
        slave,
    };
    Endpoint::start(path, line, behind.into(), clock)
}

/// Both ends of the terminal. The other end is kept open here too, so that reading goes on when a program closes it.
struct Pty {
    master: File,
    slave: OwnedFd,
}

impl Pty {
    fn ready(&self, flags: PollFlags, wait: Duration) -> io::Result<bool> {
        let wait = Timespec {
            tv_sec: wait.as_secs() as i64,
            tv_nsec: i64::from(wait.subsec_nanos()),
        };
        let mut fds = [PollFd::new(&self.master, flags)];
        match poll(&mut fds, Some(&wait)) {
            Ok(count) => Ok(count > 0),
            Err(rustix::io::Errno::INTR) => Ok(false),
            Err(error) => Err(error.into()),
        }
    }
}

impl Line for Pty {
    fn read(&mut self, buffer: &mut [u8], wait: Duration) -> io::Result<usize> {
        if !self.ready(PollFlags::IN, wait)? {
            // A program that was killed leaves its exclusive claim behind; it is lifted while nothing happens.
            if wait > Duration::from_millis(10) {
                ioctl_tiocnxcl(&self.slave)?;
            }
            return Ok(0);
        }
        io::Read::read(&mut self.master, buffer)
    }

    /// Bytes that nobody fetches are lost after a while, as on a real line.
    fn write(&mut self, bytes: &[u8]) -> io::Result<()> {
        if self.ready(PollFlags::OUT, Duration::from_millis(200))? {
            self.master.write_all(bytes)?;
        }
        Ok(())
    }
}
