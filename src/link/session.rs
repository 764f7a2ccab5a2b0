//! A session: connected to adapter and car, ready to ask.

use pintle_protocol::dialogue::{
    Answer, Connection, Controller, Event, NoAnswer, Settings, SetupFailure, Stage,
};

use super::{
    device::{Device, LinkKind},
    device_identity::DeviceIdentity,
    error::{LinkError, OpenError},
    meeting,
    pump::Pump,
    question::{Question, Request},
};
use crate::{
    capture::{Header, LinkNote},
    clock::Clock,
    trace,
    vehicle::Vehicle,
};

/// Wait for a reset while the speed is not known: a right speed is recognised by its banner within about a second.
const LOOK_US: u64 = 1_600_000;

/// A connection to a car that answers.
#[derive(Debug)]
pub struct Session {
    pub(super) device: Device,
    /// How to find the device again; a network address does not change.
    pub(super) device_identity: Option<DeviceIdentity>,
    pub(super) baud: Option<u32>,
    pub(super) clock: Clock,
    pub(super) pump: Pump,
    pub(super) connection: Connection,
}

impl Session {
    /// Connects: opens the device, finds its speed if none is given, sets the adapter up, finds the car's bus and its
    /// controllers.
    ///
    /// With simulated time the waits for an answer are real, everything else follows the clock.
    ///
    /// # Errors
    /// Why there is no connection; nothing has been sent to the car but requests of service 01, 06, 09 and 22.
    pub async fn connect(device: Device, clock: Clock) -> Result<Self, LinkError> {
        Self::connect_traced(device, clock, None, |_| ()).await
    }

    /// [`Session::connect`], keeping all that goes over the line in a trace; `tell` is told in words how far it has come.
    ///
    /// # Errors
    /// As [`Session::connect`]; a trace that cannot be written is no error here.
    pub async fn connect_traced(
        device: Device,
        clock: Clock,
        trace: Option<trace::Writer>,
        mut tell: impl FnMut(&str),
    ) -> Result<Self, LinkError> {
        let speeds = device.speeds();
        let searching = speeds.len() > 1;
        let mut failure = SetupFailure::AdapterSilent;
        for baud in speeds {
            let mut settings = Settings::default();
            if searching {
                settings.reset_us = LOOK_US;
            }
            let pump = Pump::new(clock.clone(), settings, trace.clone());
            let tell = |stage| tell(&words(stage, baud));
            match Self::connect_at(&device, baud, pump, &clock, tell).await {
                Err(LinkError::Setup(found)) if searching && may_be_speed(&found) => {
                    failure = more_telling(failure, found);
                }
                outcome => return outcome,
            }
        }
        Err(LinkError::Setup(failure))
    }

    /// [`Session::connect_traced`] at the first of these devices at which an adapter is seen; `passed_over` hears of every
    /// device before it.
    ///
    /// # Errors
    /// The last device tried, and why there is no connection; [`OpenError::NoPort`] without a device.
    pub async fn connect_first(
        devices: Vec<Device>,
        clock: Clock,
        trace: Option<trace::Writer>,
        mut passed_over: impl FnMut(&Device, &LinkError),
    ) -> Result<Self, (Option<Device>, LinkError)> {
        let mut last = (None, LinkError::Open(OpenError::NoPort));
        for device in devices {
            let session =
                Self::connect_traced(device.clone(), clock.clone(), trace.clone(), |_| ());
            match session.await {
                Err(error) if !error.is_adapter_seen() => {
                    passed_over(&device, &error);
                    last = (Some(device), error);
                }
                outcome => return outcome.map_err(|error| (Some(device), error)),
            }
        }
        Err(last)
    }

    async fn connect_at(
        device: &Device,
        baud: Option<u32>,
        mut pump: Pump,
        clock: &Clock,
        tell: impl FnMut(Stage),
    ) -> Result<Self, LinkError> {
        pump.open(device, baud).await?;
        let connection = pump.connected(None, tell).await?;
        let ended = || LinkError::Lost("set-up ended without a result".to_owned());
        let device_identity = match device {
            Device::Serial { path, .. } => Some(DeviceIdentity::of(path)),
            Device::Network(_) => None,
        };
        Ok(Self {
            device: device.clone(),
            device_identity,
            baud,
            clock: clock.clone(),
            pump,
            connection: connection.ok_or_else(ended)?,
        })
    }

    /// What was found: adapter, bus, controllers.
    pub const fn connection(&self) -> &Connection {
        &self.connection
    }

    /// The device that the adapter is at.
    pub const fn device(&self) -> &Device {
        &self.device
    }

    /// How the adapter is reached.
    pub const fn kind(&self) -> LinkKind {
        self.device.kind()
    }

    /// Speed of the serial line in baud, where it has one.
    pub const fn baud(&self) -> Option<u32> {
        self.baud
    }

    /// The clock that the session goes by.
    pub const fn clock(&self) -> &Clock {
        &self.clock
    }

    /// The controller of the engine.
    ///
    /// # Errors
    /// [`LinkError::NoEngineController`] when none of those that answer reports engine speed.
    pub fn engine(&self) -> Result<&Controller, LinkError> {
        let engine = self.connection.engine();
        engine
            .filter(|engine| engine.parameters.contains(0x0C))
            .ok_or(LinkError::NoEngineController)
    }

    /// What was found at the other end, in a few words.
    ///
    /// # Errors
    /// As [`Session::engine`].
    pub fn description(&self) -> Result<String, LinkError> {
        let items = self.engine()?.parameters.items().count();
        let connection = &self.connection;
        let adapter = connection.adapter.name.as_deref().unwrap_or("an adapter");
        let voltage = connection.voltage.map(|volts| format!(", {volts:.1} V"));
        Ok(format!(
            "{adapter}, {}{}, {items} PIDs from the engine controller",
            connection.protocol,
            voltage.unwrap_or_default()
        ))
    }

    /// Bytes that went over the line so far, both ways together.
    pub const fn bytes(&self) -> u64 {
        self.pump.traffic().total()
    }

    /// The header of a capture that begins now.
    pub fn header(&self, vehicle: Option<Vehicle>) -> Header {
        let engine = self.engine().ok();
        let address = engine.and_then(|engine| engine.address);
        Header {
            vehicle,
            link: Some(LinkNote {
                protocol: Some(self.connection.protocol.id().to_owned()),
                adapter: self.connection.adapter.name.clone(),
                baud: self.baud,
                engine_controller: address.map(|address| address.to_string()),
                supported: engine.map(meeting::supported_by).unwrap_or_default(),
                ..LinkNote::default()
            }),
            ..Header::starting(jiff::Timestamp::now())
        }
    }

    /// Asks one question and waits for its end.
    ///
    /// # Errors
    /// When the link is lost over it. A car that does not answer is no error but [`Reply::None`].
    pub async fn ask(&mut self, question: Question) -> Result<Reply, LinkError> {
        let request = Request::single(question, self.connection.services);
        let mut asked = false;
        loop {
            if !asked && self.pump.is_ready() {
                asked = self.pump.request(&request, None);
            }
            match self.pump.next_event(None).await? {
                Some(Event::Answer(answer)) => return Ok(Reply::Answer(answer)),
                Some(Event::NoAnswer(none)) if asked => return Ok(Reply::None(none)),
                Some(Event::NeedReopen { words }) => return Err(LinkError::Lost(words)),
                _ => {}
            }
        }
    }

    /// Asks one question and adds its reply to these.
    pub(super) async fn ask_into(
        &mut self,
        question: Question,
        replies: &mut Vec<Reply>,
    ) -> Result<Reply, LinkError> {
        let reply = self.ask(question).await?;
        replies.push(reply.clone());
        Ok(reply)
    }
}

/// How a question ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Reply {
    /// The car answered.
    Answer(Answer),
    /// There is no answer.
    None(NoAnswer),
}

/// How far it has come, for the person.
fn words(stage: Stage, baud: Option<u32>) -> String {
    match (stage, baud) {
        (Stage::Adapter, Some(baud)) => format!("looking for the adapter at {baud} baud"),
        (Stage::Adapter, None) => "looking for the adapter".to_owned(),
        (Stage::Bus, _) => "the adapter answers; looking for the car's bus".to_owned(),
        (Stage::Controllers, _) => "the car answers; asking what it supports".to_owned(),
    }
}

/// Whether a wrong speed of the line can look like this.
const fn may_be_speed(failure: &SetupFailure) -> bool {
    matches!(
        failure,
        SetupFailure::AdapterSilent | SetupFailure::NotReadable | SetupFailure::NotAnAdapter { .. }
    )
}

/// What to tell when no speed was the right one: words that could be read, then that there were any, then silence.
fn more_telling(one: SetupFailure, other: SetupFailure) -> SetupFailure {
    let rank = |failure: &SetupFailure| match failure {
        SetupFailure::AdapterSilent => 0,
        SetupFailure::NotReadable => 1,
        _ => 2,
    };
    if rank(&other) > rank(&one) {
        other
    } else {
        one
    }
}
