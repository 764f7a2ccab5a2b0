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
    /// Begins to listen, on a thread of its own.
    ///
    /// # Errors
    /// When the system does not let it.
    pub fn listen() -> io::Result<Self> {
        let signals = Self::default();
        #[cfg(unix)]
        signals.listen_on_a_thread()?;
        Ok(signals)
    }

    #[cfg(unix)]
    fn listen_on_a_thread(&self) -> io::Result<()> {
        use rustix::process::Signal;
        use tokio::signal::unix::{SignalKind, signal};
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_io()
            .build()?;
        let within = runtime.enter();
        let mut terminate = signal(SignalKind::terminate())?;
        let mut hangup = signal(SignalKind::hangup())?;
        let mut interrupt = signal(SignalKind::interrupt())?;
        let mut continued = signal(SignalKind::from_raw(Signal::CONT.as_raw()))?;
        drop(within);
        let Self { end, woken } = self.clone();
        let listen = async move {
            loop {
                let flag = tokio::select! {
                    _ = terminate.recv() => &end,
                    _ = hangup.recv() => &end,
                    _ = interrupt.recv() => &end,
                    _ = continued.recv() => &woken,
                };
                flag.store(true, Ordering::Relaxed);
            }
        };
        std::thread::Builder::new()
            .name("signals".to_owned())
            .spawn(move || runtime.block_on(listen))?;
        Ok(())
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
