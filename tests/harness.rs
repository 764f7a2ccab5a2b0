//! Runs the binary in a fresh folder.

use std::path::{Path, PathBuf};

/// A folder of its own for one test, gone afterwards.
pub struct Workbench {
    folder: tempfile::TempDir,
}

impl Workbench {
    /// An empty folder.
    pub fn new() -> Self {
        Self {
            folder: tempfile::tempdir().unwrap(),
        }
    }

    /// The folder.
    pub fn path(&self) -> &Path {
        self.folder.path()
    }

    /// Writes a file into the folder and gives its path.
    pub fn file(&self, name: &str, content: impl AsRef<[u8]>) -> PathBuf {
        let path = self.path().join(name);
        std::fs::write(&path, content).unwrap();
        path
    }

    /// The program, to be run in the folder.
    pub fn pintle<S: AsRef<std::ffi::OsStr>>(
        &self,
        arguments: impl IntoIterator<Item = S>,
    ) -> assert_cmd::Command {
        let mut command = assert_cmd::Command::new(env!("CARGO_BIN_EXE_pintle"));
        command.current_dir(self.path()).args(arguments);
        command
    }
}

#[cfg(unix)]
impl Workbench {
    /// Runs the program on a terminal of its own and types this when it asks.
    pub fn typed(&self, arguments: &[&str], answers: &str) -> std::process::Output {
        use std::{
            fs::{File, OpenOptions},
            io::Write,
            process::{Command, Stdio},
        };

        use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};

        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
        grantpt(&master).unwrap();
        unlockpt(&master).unwrap();
        let path = ptsname(&master, Vec::new()).unwrap().into_string().unwrap();
        let terminal = OpenOptions::new()
            .read(true)
            .write(true)
            .open(path)
            .unwrap();
        // a terminal keeps lines until they are read
        File::from(master.try_clone().unwrap())
            .write_all(answers.as_bytes())
            .unwrap();
        Command::new(env!("CARGO_BIN_EXE_pintle"))
            .current_dir(self.path())
            .args(arguments)
            .stdin(Stdio::from(terminal))
            .output()
            .unwrap()
    }
}

/// The folder of real logs, when it lies beside the checkout; says so when it does not.
pub fn real_logs() -> Option<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/data/carobd");
    if folder.is_dir() {
        return Some(folder);
    }
    println!("left out: no real logs at {}", folder.display());
    None
}

#[test]
fn help_is_printed_and_a_wrong_command_is_refused() {
    let bench = Workbench::new();
    bench.pintle(["--help"]).assert().success();
    bench.pintle(["no-such-command"]).assert().code(2);
}
