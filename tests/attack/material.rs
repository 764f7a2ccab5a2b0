//! Sound files for the inputs to be made of and combined with: short recordings of simulated cars, and what belongs to them.

use std::{
    fs,
    future::pending,
    path::{Path, PathBuf},
};

use pintle::{
    capture::Writer,
    clock::Clock,
    export,
    link::{Device, Session},
    simulator::{
        adapter::{VirtualAdapter, endpoint::open_tcp},
        bus::Bus,
        car::{Car, fleet, trip::Trip},
    },
};

use super::dice::Dice;

/// Recordings: name, car, bus if it is not the car's own, fault, seconds.
const RECORDINGS: [(&str, &str, Option<Bus>, &str, u64); 6] = [
    ("before", "van3", None, "injector_restricted:3:30", 40),
    ("after", "van3", None, "", 30),
    ("v6", "wagon2", None, "ignition_weak:5:20", 20),
    ("newer", "van8", None, "injector_dead:2", 20),
    ("older", "van7", Some(Bus::Iso9141), "intake_leak:30", 30),
    ("eight", "pickup1", Some(Bus::Can29At500), "", 15),
];

const VISIT: &str = "opened = \"2026-11-25T08:00:00Z\"\ncomplaint = \"shakes at idle\"\nodometer_km = 148200.0\n\n\
    [vehicle]\nlabel = \"van 3\"\ncylinders = 4\n";
const MAP: &str = "time = { column = \"t\", unit = \"s\" }\n[columns]\n\"engine speed (rpm)\" = \"010C\"\n\
    \"short term fuel trim, bank 1 (%)\" = \"0106\"\n\"Coolant F\" = { request = \"0105\", unit = \"degF\" }\n\
    \"misfires of cylinder 3\" = \"06A40C\"\n";
const READINGS: &str = "coil_temperature_c = 22.0\ngauge_step_kpa = 5.0\nvolume_time_s = 15.0\n[rail]\n\
    [[injector]]\ncylinder = 1\nohms = 12.1\nclick = true\n[[injector]]\ncylinder = 2\nohms = 12.2\nclick = true\n\
    [[injector]]\ncylinder = 3\nohms = \"open\"\nclick = false\n[[injector]]\ncylinder = 4\nohms = 12.0\n";
const VEHICLE: &str = "label = \"van 3\"\ncylinders = 4\nbanks = [[1, 2, 3, 4]]\ndisplacement_l = 2.0\n\
    injection = \"port\"\nair_metering = \"maf\"\ncoil_ohms = [11.5, 12.5]\nrail_kpa = [370.0, 400.0]\nfuel = \"E10\"\n\
    [prices]\nlabour_per_hour = 80.0\n";
const FOREIGN: &str = "Time (s);Engine RPM;STFT B1 (%);LTFT B1;Coolant Temp;MAF (g/s);Speed\r\n\
    0,0;812;1,6;3,1;88;2,4;0\r\n0,5;808;1,6;3,1;88;2,4;0\r\n1,0;2512;-0,8;NA;89;9,1;0\r\n1,5;2508;-0,8;3,9;89;9,2;0\r\n";

/// A folder of sound files.
pub struct Material {
    folder: PathBuf,
    files: Vec<(String, Vec<u8>)>,
}

impl Material {
    /// Makes the files in an empty folder.
    pub fn make(folder: &Path) {
        for (name, car, bus, fault, seconds) in RECORDINGS {
            record(
                &folder.join(format!("{name}.capture.csv")),
                car,
                bus,
                fault,
                seconds,
            );
        }
        let put = |name: &str, text: &[u8]| fs::write(folder.join(name), text).unwrap();
        let (mut long, mut wide) = (Vec::new(), Vec::new());
        export::long(&folder.join("before.capture.csv"), &mut long).unwrap();
        export::wide(&folder.join("before.capture.csv"), 1_000_000, &mut wide).unwrap();
        put("long.table.csv", &long);
        put("wide.table.csv", &wide);
        put("foreign.table.csv", FOREIGN.as_bytes());
        put("visit.toml", VISIT.as_bytes());
        put("map.toml", MAP.as_bytes());
        put("readings.toml", READINGS.as_bytes());
        put("vehicle.toml", VEHICLE.as_bytes());
        let project = Path::new(env!("CARGO_MANIFEST_DIR"));
        fs::copy(
            project.join("src/diagnose/prior.toml"),
            folder.join("priors.toml"),
        )
        .unwrap();
        for name in [
            "cheap-copy",
            "newer-car",
            "iso14230-4-waits",
            "up-the-ladder",
        ] {
            let name = format!("{name}.trace");
            fs::copy(
                project.join("tests/dialogues").join(&name),
                folder.join(&name),
            )
            .unwrap();
        }
    }

    /// Reads the files of a folder.
    pub fn read(folder: &Path) -> Self {
        let name = |path: &Path| path.file_name().unwrap().to_str().unwrap().to_owned();
        let entries = fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().path());
        let mut files: Vec<_> = entries
            .map(|path| (name(&path), fs::read(&path).unwrap()))
            .collect();
        // the same draw takes the same file everywhere
        files.sort();
        Self {
            folder: folder.to_owned(),
            files,
        }
    }

    /// Where the files are.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// The content of one of the files whose names end so.
    pub fn any(&self, ending: &str, dice: &mut Dice) -> &[u8] {
        let named: Vec<_> = self
            .files
            .iter()
            .filter(|(name, _)| name.ends_with(ending))
            .collect();
        &dice.one_of(&named).1
    }
}

/// Records a car in simulated time.
fn record(path: &Path, car: &str, bus: Option<Bus>, fault: &str, seconds: u64) {
    let faults: Vec<_> = (!fault.is_empty())
        .then(|| fault.parse().unwrap())
        .into_iter()
        .collect();
    let mut car = Car::new(fleet::car(car).unwrap(), &faults, Trip::warm(1), 1).unwrap();
    if let Some(bus) = bus {
        car = car.on_bus(bus);
    }
    let clock = Clock::simulated();
    let endpoint = open_tcp(VirtualAdapter::new(car, 38_400), clock.clone()).unwrap();
    let device = Device::Network(endpoint.address().to_owned());
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .unwrap();
    runtime.block_on(async {
        let mut session = Session::connect(device, clock).await.unwrap();
        let mut writer = Writer::create(path, &session.header(None)).unwrap();
        let length_us = Some(seconds * 1_000_000);
        session
            .record(Some(&mut writer), length_us, pending, |_, _| {})
            .await
            .unwrap();
        writer.finish().unwrap();
    });
}
