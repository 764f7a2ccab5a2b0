//! The thread that carries bytes between a line and what answers behind it, in real or in simulated time.

use std::{
    collections::VecDeque,
    io,
    sync::{
        Arc,
        atomic::{AtomicBool, AtomicU64, Ordering},
    },
    thread::JoinHandle,
    time::Duration,
};

use super::behind::Behind;
use crate::clock::Clock;

/// How long the thread sleeps at most before it looks whether it is to stop.
const LOOK: Duration = Duration::from_millis(20);
/// What simulated time moves on by in each such sleep while the adapter owes its prompt, µs.
const SILENCE_US: u64 = 200_000;
/// A moment that never comes.
const NEVER: u64 = u64::MAX;

/// The two ends of a line that the thread knows.
pub(super) trait Line: Send + 'static {
    /// Waits up to `wait` for bytes; 0 when none came.
    fn read(&mut self, buffer: &mut [u8], wait: Duration) -> io::Result<usize>;

    /// Writes as much as the line takes.
    fn write(&mut self, bytes: &[u8]) -> io::Result<()>;
}

/// A running virtual adapter; dropping it takes the device away.
#[derive(Debug)]
pub struct Endpoint {
    address: String,
    switches: Arc<Switches>,
    thread: Option<JoinHandle<()>>,
}

/// What can be done to the device while it runs.
#[derive(Debug)]
struct Switches {
    gone: AtomicBool,
    ignition_off_us: AtomicU64,
    unplugged_us: AtomicU64,
    late_us: AtomicU64,
}

impl Endpoint {
    /// Starts the thread. `address` is what a program opens.
    pub(super) fn start(
        address: String,
        mut line: impl Line,
        mut adapter: Behind,
        clock: Clock,
    ) -> io::Result<Self> {
        let switches = Arc::new(Switches {
            gone: AtomicBool::new(false),
            ignition_off_us: AtomicU64::new(NEVER),
            unplugged_us: AtomicU64::new(NEVER),
            late_us: AtomicU64::new(0),
        });
        let inside = Arc::clone(&switches);
        let serve = move || {
            // The line's end is the thread's end: there is nobody to tell.
            let _ = match clock {
                Clock::Real(_) => serve_real(&mut line, &mut adapter, &clock, &inside),
                Clock::Simulated(_) => serve_simulated(&mut line, &mut adapter, &clock, &inside),
            };
        };
        let thread = std::thread::Builder::new()
            .name("virtual adapter".to_owned())
            .spawn(serve)?;
        Ok(Self {
            address,
            switches,
            thread: Some(thread),
        })
    }

    /// What a program opens: the path of the device, or host and port.
    pub fn address(&self) -> &str {
        &self.address
    }

    /// Turns the car's ignition off from `t_us` on, or back on with `None`.
    pub fn ignition_off_at(&self, t_us: Option<u64>) {
        self.switches
            .ignition_off_us
            .store(t_us.unwrap_or(NEVER), Ordering::Release);
    }

    /// By how much all replies together ended later than they should have, in real time, because this machine let the
    /// thread wait, µs: a measurement of speed must not count it.
    pub fn late_us(&self) -> u64 {
        self.switches.late_us.load(Ordering::Acquire)
    }

    /// Pulls the plug at `t_us`: the device is gone from then on.
    pub fn unplug_at(&self, t_us: u64) {
        self.switches.unplugged_us.store(t_us, Ordering::Release);
    }
}

impl Drop for Endpoint {
    fn drop(&mut self) {
        self.switches.gone.store(true, Ordering::Release);
        if let Some(thread) = self.thread.take() {
            // A panic in the thread has been printed by it; dropping must not add another.
            let _ = thread.join();
        }
    }
}

impl Switches {
    /// Whether the device is gone at `t_us`.
    fn gone(&self, t_us: u64) -> bool {
        self.gone.load(Ordering::Acquire) || t_us >= self.unplugged_us.load(Ordering::Acquire)
    }

    fn ignition(&self, t_us: u64) -> bool {
        t_us < self.ignition_off_us.load(Ordering::Acquire)
    }
}

/// Real time: bytes go in and out when a line of this speed would have carried them; the car follows the clock.
fn serve_real(
    line: &mut impl Line,
    adapter: &mut Behind,
    clock: &Clock,
    switches: &Switches,
) -> io::Result<()> {
    let mut buffer = [0; 256];
    let mut incoming = Incoming::default();
    while !switches.gone(clock.now_us()) {
        let due_us = [adapter.due_us(), incoming.due_us()]
            .into_iter()
            .flatten()
            .min();
        let due = due_us.map(|due_us| due_us.saturating_sub(clock.now_us()));
        let wait = due.map_or(LOOK, |us| Duration::from_micros(us).min(LOOK));
        let count = line.read(&mut buffer, wait)?;
        let now_us = clock.now_us();
        adapter.set_ignition(switches.ignition(now_us));
        incoming.add(buffer.iter().take(count), now_us, adapter.byte_us());
        while let Some((at_us, byte)) = incoming.next(now_us) {
            adapter.receive(byte, at_us);
        }
        let settled_us = adapter.settled_us();
        let bytes = adapter.take_due(clock.now_us());
        if !bytes.is_empty() {
            line.write(&bytes)?;
            // what is late in the midst of a reply is made up for until its end
            if adapter.due_us().is_none() {
                let late_us = clock.now_us().saturating_sub(settled_us.unwrap_or(NEVER));
                switches.late_us.fetch_add(late_us, Ordering::AcqRel);
            }
        }
    }
    Ok(())
}

/// Bytes on their way to the adapter, each with the time at which the line will have carried it, µs.
#[derive(Debug, Default)]
struct Incoming {
    bytes: VecDeque<(u64, u8)>,
    free_us: f64,
}

impl Incoming {
    fn add<'a>(&mut self, bytes: impl Iterator<Item = &'a u8>, now_us: u64, byte_us: f64) {
        for byte in bytes {
            self.free_us = self.free_us.max(now_us as f64) + byte_us;
            self.bytes.push_back((self.free_us as u64, *byte));
        }
    }

    fn due_us(&self) -> Option<u64> {
        self.bytes.front().map(|(at_us, _)| *at_us)
    }

    fn next(&mut self, now_us: u64) -> Option<(u64, u8)> {
        let due = self.due_us().is_some_and(|at_us| at_us <= now_us);
        due.then(|| self.bytes.pop_front())?
    }
}

/// Simulated time: nothing waits; the clock moves on by what the bytes, the adapter and the car would have taken. While an
/// adapter that owes its prompt stays silent, time passes too.
fn serve_simulated(
    line: &mut impl Line,
    adapter: &mut Behind,
    clock: &Clock,
    switches: &Switches,
) -> io::Result<()> {
    let mut buffer = [0; 256];
    let mut wire_us = 0.0;
    let mut owes_prompt = false;
    while !switches.gone(clock.now_us()) {
        let count = line.read(&mut buffer, LOOK)?;
        if count == 0 && owes_prompt {
            clock.advance_to(clock.now_us() + SILENCE_US);
        }
        for byte in buffer.iter().take(count) {
            wire_us += adapter.byte_us();
            if *byte == b'\r' {
                clock.advance_to(clock.now_us() + wire_us as u64);
                wire_us = 0.0;
                adapter.set_ignition(switches.ignition(clock.now_us()));
            }
            adapter.receive(*byte, clock.now_us());
            owes_prompt |= *byte == b'\r';
            if *byte == b'\r'
                && let Some(settled_us) = adapter.settled_us()
            {
                clock.advance_to(settled_us);
                if switches.gone(settled_us) {
                    return Ok(());
                }
                let bytes = adapter.take_due(settled_us);
                owes_prompt = !bytes.ends_with(b">");
                for piece in bytes.chunks(adapter.burst(settled_us)) {
                    line.write(piece)?;
                }
            }
        }
    }
    Ok(())
}
