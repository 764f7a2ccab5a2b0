//! Finding a device again that went away: under its old name, or under the new number that the system gave it.

use std::{
    collections::BTreeSet,
    fs,
    path::{Path, PathBuf},
};

use super::serial::{self, UsbMark};

/// What is known of a serial device from when it worked.
#[derive(Debug)]
pub(super) struct DeviceIdentity {
    path: PathBuf,
    /// What the system said of it, if it hangs on USB.
    usb: Option<UsbMark>,
    /// Devices of the same kind that were there beside it.
    others: BTreeSet<PathBuf>,
}

impl DeviceIdentity {
    /// Notes what is there while the device works.
    pub fn of(path: &str) -> Self {
        let path = PathBuf::from(path);
        Self {
            usb: serial::usb_mark(&path),
            others: alike(&path),
            path,
        }
    }

    /// Where the device is now: under its old name; else, on USB, where the system says the same of one device only; else
    /// the only device of its kind that has come since.
    pub fn find(&self) -> Option<PathBuf> {
        // names of ports are no files on every system
        let there = cfg!(not(unix)) || self.path.exists();
        let come = match &self.usb {
            None if there => return Some(self.path.clone()),
            None => alike(&self.path),
            Some(_) if there && serial::usb_mark(&self.path) == self.usb => {
                return Some(self.path.clone());
            }
            Some(mark) => serial::marked(mark),
        };
        let mut come = come.difference(&self.others);
        let first = come.next()?;
        come.next().is_none().then(|| first.clone())
    }
}

/// The devices beside this one whose names differ in the last number only. A bare number is a terminal of somebody else.
fn alike(path: &Path) -> BTreeSet<PathBuf> {
    let stem = |path: &Path| {
        let name = path.file_name()?.to_str()?.to_owned();
        let stem = name.trim_end_matches(|c: char| c.is_ascii_digit());
        (!stem.is_empty() && stem.len() < name.len()).then(|| stem.to_owned())
    };
    let (Some(folder), Some(own)) = (path.parent(), stem(path)) else {
        return BTreeSet::new();
    };
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    entries
        .map(|entry| entry.path())
        .filter(|other| other != path && stem(other).as_ref() == Some(&own))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A folder of devices.
    struct Folder(tempfile::TempDir);

    impl Folder {
        fn with(names: &[&str]) -> Self {
            let folder = Self(tempfile::tempdir().unwrap());
            names.iter().for_each(|name| folder.plug(name));
            folder
        }

        fn plug(&self, name: &str) {
            fs::write(self.0.path().join(name), "").unwrap();
        }

        fn pull(&self, name: &str) {
            fs::remove_file(self.0.path().join(name)).unwrap();
        }

        fn device_identity(&self, name: &str) -> DeviceIdentity {
            DeviceIdentity::of(self.0.path().join(name).to_str().unwrap())
        }

        fn found(&self, device_identity: &DeviceIdentity) -> Option<String> {
            let path = device_identity.find()?;
            Some(path.strip_prefix(&self.0).unwrap().to_str()?.to_owned())
        }
    }

    #[test]
    fn a_device_is_found_under_its_old_name_first() {
        let folder = Folder::with(&["usb0", "usb7"]);
        let device_identity = folder.device_identity("usb0");
        folder.plug("usb1");
        assert_eq!(folder.found(&device_identity).as_deref(), Some("usb0"));
    }

    #[test]
    fn a_new_number_is_found_when_it_is_the_only_new_one() {
        let folder = Folder::with(&["usb0", "usb7", "printer"]);
        let device_identity = folder.device_identity("usb0");
        folder.pull("usb0");
        assert_eq!(folder.found(&device_identity), None);
        folder.plug("card2");
        assert_eq!(folder.found(&device_identity), None);
        folder.plug("usb1");
        assert_eq!(folder.found(&device_identity).as_deref(), Some("usb1"));
        folder.plug("usb2");
        assert_eq!(folder.found(&device_identity), None);
        folder.plug("usb0");
        assert_eq!(folder.found(&device_identity).as_deref(), Some("usb0"));
    }

    #[test]
    fn a_name_without_a_number_and_a_bare_number_are_found_again_as_they_are_only() {
        for (name, other) in [("adapter", "adapter1"), ("3", "4")] {
            let folder = Folder::with(&[name]);
            let device_identity = folder.device_identity(name);
            folder.pull(name);
            folder.plug(other);
            assert_eq!(folder.found(&device_identity), None);
            folder.plug(name);
            assert_eq!(folder.found(&device_identity).as_deref(), Some(name));
        }
    }
}
