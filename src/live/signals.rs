//! Signals of the system while the screen is up: end in order, or take the terminal over again after a stop.

use std::{
    io,
    sync::{
        Arc,
        atomic::{AtomicBool, Ordering},
    },
};

/// What the system has asked for meanwhile.
#[derive(Debug, Clone, Default)]
pub struct Signals {
    end: Arc<AtomicBool>,
    woken: Arc<AtomicBool>,
}

impl Signals {
    /// Begins to listen.
    ///
    /// # Errors
    /// When the system does not let it.
    pub fn listen() -> io::Result<Self> {
        let signals = Self::default();
        #[cfg(unix)]
        {
            use signal_hook::{consts::signal, flag};
            for number in [signal::SIGTERM, signal::SIGHUP, signal::SIGINT] {
                flag::register(number, Arc::clone(&signals.end))?;
            }
            flag::register(signal::SIGCONT, Arc::clone(&signals.woken))?;
        }
        Ok(signals)
    }

    /// Whether the screen is to end.
    pub fn end(&self) -> bool {
        self.end.load(Ordering::Relaxed)
    }

    /// Whether the program was stopped and goes on now; told once.
    pub fn woken(&self) -> bool {
        self.woken.swap(false, Ordering::Relaxed)
    }
}
