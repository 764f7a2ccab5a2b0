//! The program on a terminal of its own, whose screen can be read and whose keys can be pressed.
//!
//! The terminal is the program's controlling one, as in a terminal window: closing it hangs the program up, a new size is
//! told to it, and no other terminal that the tests may run in is touched. Nothing here sleeps: every wait ends as soon
//! as what was waited for is there, and fails with a picture of the screen when it does not come.

use std::{
    fs::{File, OpenOptions},
    io::{Read, Write},
    os::fd::OwnedFd,
    process::{Child, Command, ExitStatus, Stdio},
    time::{Duration, Instant},
};

use rustix::{
    event::{PollFd, PollFlags, Timespec, poll},
    io::Errno,
    process::{Pid, PidfdFlags, Signal, kill_process, pidfd_open},
    pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt},
    termios::{Termios, Winsize, tcgetattr, tcsetwinsize},
};

use crate::harness::Workbench;

/// After so long a screen that does not come is given up; long, since other work may keep the computer busy.
const PATIENCE: Duration = Duration::from_secs(60);

/// What a terminal sends for keys that are no letters.
pub mod keys {
    pub const LEFT: &str = "\x1b[D";
    pub const RIGHT: &str = "\x1b[C";
    pub const HOME: &str = "\x1b[H";
    pub const END: &str = "\x1b[F";
    pub const PAGE_UP: &str = "\x1b[5~";
    pub const PAGE_DOWN: &str = "\x1b[6~";
}

/// The program on its terminal; ended when dropped.
pub struct Terminal {
    child: Child,
    /// Readable once the program has ended.
    ended: OwnedFd,
    /// The person's side and the program's side; nothing once the terminal is lost. The program's side is held so that
    /// what the program leaves behind can be looked at.
    sides: Option<(File, File)>,
    emulator: vt100::Parser,
    before: Termios,
}

impl Terminal {
    /// Starts the program with these arguments in the bench's folder, on a terminal of `columns` × `rows` letters.
    pub fn start(bench: &Workbench, size: (u16, u16), arguments: &[&str]) -> Self {
        Self::start_in(bench, size, arguments, &[])
    }

    /// The same with more in the environment.
    pub fn start_in(
        bench: &Workbench,
        (columns, rows): (u16, u16),
        arguments: &[&str],
        environment: &[(&str, &str)],
    ) -> Self {
        let master =
            openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
        grantpt(&master).unwrap();
        unlockpt(&master).unwrap();
        let path = ptsname(&master, Vec::new()).unwrap().into_string().unwrap();
        let slave = OpenOptions::new()
            .read(true)
            .write(true)
            .open(path)
            .unwrap();
        tcsetwinsize(&slave, size(columns, rows)).unwrap();
        let before = tcgetattr(&slave).unwrap();
        let side = || Stdio::from(slave.try_clone().unwrap());
        // makes the terminal the controlling one, then becomes the program: same process, same number
        let child = Command::new("setsid")
            .arg("-c")
            .arg(env!("CARGO_BIN_EXE_pintle"))
            .args(arguments)
            .current_dir(bench.path())
            .env("TERM", "xterm-256color")
            .env_remove("NO_COLOR")
            .envs(environment.iter().copied())
            .stdin(side())
            .stdout(side())
            .stderr(side())
            .spawn()
            .unwrap();
        let ended = pidfd_open(number_of(&child), PidfdFlags::empty()).unwrap();
        Self {
            child,
            ended,
            sides: Some((File::from(master), slave)),
            emulator: vt100::Parser::new(rows, columns, 0),
            before,
        }
    }

    /// What stands on the screen now, line by line.
    pub fn text(&self) -> String {
        self.emulator.screen().contents()
    }

    /// The screen with its letters' looks.
    pub fn screen(&self) -> &vt100::Screen {
        self.emulator.screen()
    }

    /// Waits until this text stands on the screen.
    pub fn wait_for(&mut self, text: &str) {
        self.wait_until(text, |screen| screen.contains(text));
    }

    /// Waits until the screen's text is as asked for; `what` says what that is.
    pub fn wait_until(&mut self, what: &str, is_there: impl Fn(&str) -> bool) {
        let deadline = Instant::now() + PATIENCE;
        while !is_there(&self.text()) {
            assert!(
                self.take_some(deadline),
                "no {what:?} on the screen:\n{}",
                self.text()
            );
        }
    }

    /// Presses keys, or types letters.
    pub fn send(&mut self, keys: &str) {
        let (person, _) = self.sides.as_mut().expect("the terminal is lost");
        person.write_all(keys.as_bytes()).unwrap();
    }

    /// Takes in what the program writes for so long.
    pub fn look_for(&mut self, long: Duration) {
        let deadline = Instant::now() + long;
        while self.take_some(deadline) {}
    }

    /// Number of the program's process.
    #[allow(dead_code, reason = "the soak looks at what the process costs")]
    pub fn number(&self) -> u32 {
        self.child.id()
    }

    /// Whether the program has not ended.
    #[allow(dead_code, reason = "the soak goes on until then")]
    pub fn is_running(&self) -> bool {
        let (_, ended) = self.wait(Duration::ZERO);
        !ended
    }

    /// Gives the terminal another size.
    pub fn resize(&mut self, columns: u16, rows: u16) {
        let (person, _) = self.sides.as_ref().expect("the terminal is lost");
        tcsetwinsize(person, size(columns, rows)).unwrap();
        self.emulator.screen_mut().set_size(rows, columns);
    }

    /// Sends the program a signal.
    pub fn signal(&self, signal: Signal) {
        kill_process(number_of(&self.child), signal).unwrap();
    }

    /// Closes the terminal under the program.
    pub fn lose(&mut self) {
        self.sides = None;
    }

    /// Waits for the program's end.
    pub fn wait_for_end(&mut self) -> ExitStatus {
        let deadline = Instant::now() + PATIENCE;
        while self.take_some(deadline) {}
        let status = self.child.try_wait().unwrap();
        status.unwrap_or_else(|| panic!("it does not end; on the screen:\n{}", self.text()))
    }

    /// The terminal must be as it was before the program: ordinary screen, cursor, lines and echo.
    pub fn assert_given_back(&self) {
        let screen = self.screen();
        assert!(!screen.alternate_screen(), "the screen is not given back");
        assert!(!screen.hide_cursor(), "the cursor stays hidden");
        assert!(!screen.bracketed_paste(), "pasting stays marked");
        let (_, program) = self.sides.as_ref().expect("the terminal is lost");
        let after = tcgetattr(program).unwrap();
        assert_eq!(after.local_modes, self.before.local_modes);
        assert_eq!(after.input_modes, self.before.input_modes);
        assert_eq!(after.output_modes, self.before.output_modes);
    }

    /// Takes in what the program writes next; false when nothing more comes, because it has ended or time is up.
    fn take_some(&mut self, deadline: Instant) -> bool {
        loop {
            let left = deadline.saturating_duration_since(Instant::now());
            let (written, ended) = self.wait(left);
            if written {
                return self.take_written();
            }
            if ended || left.is_zero() {
                return false;
            }
        }
    }

    /// Waits until the program has written or ended.
    fn wait(&self, longest: Duration) -> (bool, bool) {
        let mut watched = vec![PollFd::new(&self.ended, PollFlags::IN)];
        if let Some((person, _)) = &self.sides {
            watched.push(PollFd::new(person, PollFlags::IN));
        }
        let longest = Timespec::try_from(longest).unwrap();
        match poll(&mut watched, Some(&longest)) {
            Ok(_) | Err(Errno::INTR) => {}
            Err(error) => panic!("{error}"),
        }
        let happened = |at: usize| {
            let watched = watched.get(at);
            watched.is_some_and(|watched| watched.revents().contains(PollFlags::IN))
        };
        (happened(1), happened(0))
    }

    fn take_written(&mut self) -> bool {
        let Some((person, _)) = &mut self.sides else {
            return false;
        };
        let mut bytes = [0; 4096];
        let count = person.read(&mut bytes).unwrap();
        self.emulator.process(&bytes[..count]);
        true
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        // it may have ended already
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn size(columns: u16, rows: u16) -> Winsize {
    Winsize {
        ws_row: rows,
        ws_col: columns,
        ws_xpixel: 0,
        ws_ypixel: 0,
    }
}

fn number_of(child: &Child) -> Pid {
    Pid::from_child(child)
}
