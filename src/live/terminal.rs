//! The terminal: taken over for the screen, and given back in order on every way out.

use std::{
    io::{self, IsTerminal, Stdout, Write, stdin, stdout},
    mem::ManuallyDrop,
    panic,
    sync::{
        Once,
        atomic::{AtomicBool, Ordering},
    },
};

use crossterm::{
    cursor, event, execute,
    terminal::{self, Clear, ClearType, EnterAlternateScreen, LeaveAlternateScreen},
};
use ratatui::{Frame, Terminal, backend::CrosstermBackend};

/// Whether the terminal is taken over: given back twice, it would put the cursor over what was written in between.
static TAKEN: AtomicBool = AtomicBool::new(false);

/// The terminal while the screen is on it; dropping it gives the terminal back.
pub struct Screen {
    /// Not dropped: the library would complain of a closed terminal on that terminal, and panic when it cannot.
    terminal: ManuallyDrop<Terminal<CrosstermBackend<Stdout>>>,
}

impl Screen {
    /// Takes the terminal over.
    ///
    /// # Errors
    /// When it is no terminal, or is gone.
    pub fn open() -> io::Result<Self> {
        if !stdin().is_terminal() || !stdout().is_terminal() {
            return Err(io::Error::new(
                io::ErrorKind::Unsupported,
                "input or output goes elsewhere",
            ));
        }
        give_back_when_panicking();
        take_over()?;
        let terminal = Terminal::new(CrosstermBackend::new(stdout()));
        match terminal {
            Ok(terminal) => Ok(Self {
                terminal: ManuallyDrop::new(terminal),
            }),
            Err(error) => {
                give_back();
                Err(error)
            }
        }
    }

    /// Draws a frame; only what has changed goes to the terminal.
    ///
    /// # Errors
    /// When the terminal is gone.
    pub fn draw(&mut self, view: impl FnOnce(&mut Frame<'_>)) -> io::Result<()> {
        self.terminal.draw(view).map(|_| ())
    }

    /// Takes the terminal over again, whatever became of it meanwhile; the next frame is drawn whole.
    ///
    /// # Errors
    /// When the terminal is gone.
    pub fn renew(&mut self) -> io::Result<()> {
        take_over()?;
        execute!(stdout(), Clear(ClearType::All))?;
        // a new one, since clearing the old one asks the terminal for the cursor, and the answer comes in among the keys
        let terminal = Terminal::new(CrosstermBackend::new(stdout()))?;
        self.terminal = ManuallyDrop::new(terminal);
        Ok(())
    }

    /// Gives the terminal back and lets the shell have it until it calls this program to the front again. Where shells
    /// cannot do that, the screen is only drawn anew.
    ///
    /// # Errors
    /// When the terminal is gone.
    pub fn suspend(&mut self) -> io::Result<()> {
        give_back();
        #[cfg(unix)]
        rustix::process::kill_process(rustix::process::getpid(), rustix::process::Signal::TSTP)?;
        self.renew()
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        give_back();
    }
}

fn take_over() -> io::Result<()> {
    TAKEN.store(true, Ordering::Relaxed);
    terminal::enable_raw_mode()?;
    execute!(
        stdout(),
        EnterAlternateScreen,
        event::EnableBracketedPaste,
        cursor::Hide
    )
}

/// Gives the terminal back. What fails here cannot be told anywhere.
fn give_back() {
    if !TAKEN.swap(false, Ordering::Relaxed) {
        return;
    }
    let _ = execute!(
        stdout(),
        event::DisableBracketedPaste,
        LeaveAlternateScreen,
        cursor::Show
    );
    let _ = terminal::disable_raw_mode();
    let _ = stdout().flush();
}

/// A panic's words must reach the terminal that the person sees.
fn give_back_when_panicking() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        let before = panic::take_hook();
        panic::set_hook(Box::new(move |info| {
            give_back();
            before(info);
        }));
    });
}
