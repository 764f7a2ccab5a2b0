//! Why there is no link to the car, in the words of the person at the car, each with the next step.

use pintle_protocol::dialogue::SetupFailure;

use super::device::LinkKind;

/// Below this voltage at the plug there is no supply, only what leaks in (V).
const NO_SUPPLY_V: f64 = 6.0;

/// Below this voltage a resting lead-acid battery is flat: controllers may stay silent (V, common practice).
pub(super) const FLAT_BATTERY_V: f64 = 11.0;

/// Why a device could not be opened.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum OpenError {
    /// None was named, and there is none.
    #[error("no adapter seen")]
    NoPort,
    /// None was named, and the adapter may be at any of these.
    #[error("there are several serial ports ({})", .0.join(", "))]
    SeveralPorts(Vec<String>),
    /// Nothing of that name.
    #[error("there is no such device")]
    Missing,
    /// The person may not use it.
    #[error("you have no permission to use it")]
    NoPermission {
        /// The group that may.
        group: Option<String>,
    },
    /// Somebody else has it.
    #[error("another program is using it")]
    Busy,
    /// A file or another kind of device.
    #[error("this is not a serial device")]
    NotSerial,
    /// Nobody at that address of the network.
    #[error("nothing answers at this address ({0})")]
    Unreachable(String),
    /// A host name that the network does not know.
    #[error("no host of this name in the network")]
    UnknownHost,
    /// Anything else, in the system's words.
    #[error("it cannot be opened ({0})")]
    Other(String),
}

impl OpenError {
    /// What the person can do now.
    pub fn next_step(&self) -> String {
        match self {
            Self::NoPort => {
                "plug the adapter in (`pintle ports` says how to reach it), or give --port or --tcp"
                    .to_owned()
            }
            Self::SeveralPorts(_) => {
                "choose one with --port; `pintle probe` finds the one with the adapter".to_owned()
            }
            Self::Missing => "plug the adapter in; `pintle ports` lists the ports".to_owned(),
            Self::NoPermission { group: Some(group) } => format!(
                "join the group {group} (`sudo usermod -aG {group} $USER`), log out and in again"
            ),
            Self::NoPermission { group: None } => {
                "ask the administrator; `sudo chmod a+rw` on it helps until it is plugged in again"
                    .to_owned()
            }
            Self::Busy => "close the other program".to_owned(),
            Self::NotSerial => "`pintle ports` lists the ports".to_owned(),
            Self::UnknownHost => {
                "check the spelling, or give the adapter's address (such as 192.168.4.20:20100)"
                    .to_owned()
            }
            Self::Unreachable(_) => {
                "check that the adapter has power and that this computer is on its Wi-Fi".to_owned()
            }
            Self::Other(_) => {
                "unplug the adapter, plug it in again, then run `pintle ports`".to_owned()
            }
        }
    }
}

/// Why there is no link, or no longer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum LinkError {
    /// The device could not be opened.
    #[error("{0}")]
    Open(#[from] OpenError),
    /// The device is open, but adapter or car do not answer as they should.
    #[error("{}", setup_problem(.0))]
    Setup(SetupFailure),
    /// The device went away, or everything that can be done over it was done; what happened.
    #[error("the adapter was lost ({0})")]
    Lost(String),
    /// The adapter is back, but the car behind it is not the one that was recorded.
    #[error("the adapter is back, but another car answers")]
    OtherCar,
    /// Controllers answer, but not the engine's.
    #[error("controllers answer, but none of them reports engine speed")]
    NoEngineController,
}

impl LinkError {
    /// What the person can do now about an adapter that is reached so.
    pub fn next_step(&self, kind: LinkKind) -> String {
        match self {
            Self::Open(error) => error.next_step(),
            Self::Setup(failure) => setup_step(failure, kind).to_owned(),
            Self::Lost(_) => format!("{} and try again", look_after(kind)),
            Self::OtherCar => {
                "plug it into the first car again, or stop and start a new recording".to_owned()
            }
            Self::NoEngineController => {
                "turn the ignition fully on; if it is on, this car does not report engine data"
                    .to_owned()
            }
        }
    }

    /// Whether an adapter was there all the same, and something behind it is wrong.
    pub const fn is_adapter_seen(&self) -> bool {
        match self {
            Self::Open(_) => false,
            Self::Setup(failure) => !matches!(
                failure,
                SetupFailure::AdapterSilent
                    | SetupFailure::NotReadable
                    | SetupFailure::NotAnAdapter { .. }
            ),
            Self::Lost(_) | Self::OtherCar | Self::NoEngineController => true,
        }
    }

    /// Whether the person at the car may end it with a plug, a switch or a key, so that trying again can help.
    pub const fn may_pass(&self) -> bool {
        match self {
            Self::Open(error) => match error {
                OpenError::NoPort
                | OpenError::SeveralPorts(_)
                | OpenError::Missing
                | OpenError::Busy
                | OpenError::Unreachable(_)
                | OpenError::UnknownHost => true,
                OpenError::NoPermission { .. } | OpenError::NotSerial | OpenError::Other(_) => {
                    false
                }
            },
            Self::Setup(failure) => match failure {
                SetupFailure::AdapterSilent
                | SetupFailure::AdapterRestarts
                | SetupFailure::CarSilent { .. }
                | SetupFailure::CarKeepsWaiting
                | SetupFailure::AnswerNotReadable { .. } => true,
                SetupFailure::NotReadable | SetupFailure::NotAnAdapter { .. } => false,
            },
            Self::Lost(_) | Self::OtherCar | Self::NoEngineController => true,
        }
    }
}

fn setup_problem(failure: &SetupFailure) -> String {
    match failure {
        SetupFailure::CarSilent {
            voltage: Some(volts),
            ..
        } if *volts < NO_SUPPLY_V => {
            format!("the adapter works, but the diagnostic port has no supply ({volts:.1} V)")
        }
        SetupFailure::CarSilent {
            voltage: Some(volts),
            ..
        } if *volts < FLAT_BATTERY_V => format!(
            "the adapter works, but no controller answers and the battery is low ({volts:.1} V)"
        ),
        other => other.to_string(),
    }
}

/// What to look after when an adapter that answered before has gone.
pub const fn look_after(kind: LinkKind) -> &'static str {
    match kind {
        LinkKind::Serial => "push both of its plugs in firmly",
        LinkKind::Network => {
            "check that the adapter has power and that this computer is on its Wi-Fi"
        }
    }
}

fn setup_step(failure: &SetupFailure, kind: LinkKind) -> &'static str {
    match failure {
        SetupFailure::AdapterSilent => match kind {
            LinkKind::Serial => {
                "check that the adapter is plugged into the car and has power, and that port and speed (--baud) are \
                 right"
            }
            LinkKind::Network => {
                "check that the adapter is plugged into the car and has power, and that address and port are right"
            }
        },
        SetupFailure::AdapterRestarts => "push the plug in firmly and charge the battery",
        SetupFailure::NotReadable => match kind {
            LinkKind::Serial => "give the adapter's speed with --baud",
            LinkKind::Network => "check the address and the port of the adapter",
        },
        SetupFailure::NotAnAdapter { .. } => match kind {
            LinkKind::Serial => "choose another port; `pintle ports` lists them",
            LinkKind::Network => "check the address and the port of the adapter",
        },
        SetupFailure::CarSilent { voltage, .. } => match voltage {
            Some(volts) if *volts < NO_SUPPLY_V => {
                "push the plug in firmly and check the fuse of the diagnostic port"
            }
            Some(volts) if *volts < FLAT_BATTERY_V => {
                "charge the battery, turn the ignition on and try again"
            }
            _ => "turn the ignition on, push the plug in firmly and try again",
        },
        SetupFailure::CarKeepsWaiting => {
            "turn the ignition off for a minute, then on again; unplug everything else from the diagnostic port"
        }
        SetupFailure::AnswerNotReadable { .. } => "push the plug in firmly and try again",
    }
}

#[cfg(test)]
mod tests {
    use pintle_protocol::adapter::Notice;

    use super::*;

    fn silent_car(voltage: Option<f64>) -> LinkError {
        LinkError::Setup(SetupFailure::CarSilent {
            notice: Notice::UnableToConnect,
            voltage,
        })
    }

    #[test]
    fn a_silent_car_is_told_by_the_voltage_at_the_plug() {
        let step = |voltage| silent_car(voltage).next_step(LinkKind::Serial);
        assert!(step(Some(0.4)).contains("fuse"));
        let flat = silent_car(Some(9.8));
        assert!(
            flat.to_string().contains("battery is low (9.8 V)"),
            "{flat}"
        );
        for voltage in [None, Some(12.4)] {
            assert!(step(voltage).contains("ignition"));
        }
    }

    #[test]
    fn waiting_helps_where_a_plug_or_a_key_does_and_not_where_the_command_was_wrong() {
        for passes in [
            silent_car(None),
            LinkError::Setup(SetupFailure::AdapterSilent),
            LinkError::Open(OpenError::Missing),
            LinkError::Open(OpenError::NoPort),
            LinkError::NoEngineController,
        ] {
            assert!(passes.may_pass(), "{passes}");
        }
        let received = "login:".to_owned();
        for stays in [
            LinkError::Open(OpenError::NotSerial),
            LinkError::Open(OpenError::NoPermission { group: None }),
            LinkError::Setup(SetupFailure::NotAnAdapter { received }),
        ] {
            assert!(!stays.may_pass(), "{stays}");
        }
    }

    #[test]
    fn who_lost_a_network_adapter_is_not_sent_to_a_plug() {
        let lost = LinkError::Lost("connection closed".to_owned());
        let silent = LinkError::Setup(SetupFailure::AdapterSilent);
        assert!(lost.next_step(LinkKind::Serial).contains("plugs"));
        assert!(lost.next_step(LinkKind::Network).contains("Wi-Fi"));
        assert!(silent.next_step(LinkKind::Serial).contains("--baud"));
        assert!(silent.next_step(LinkKind::Network).contains("address"));
    }

    #[test]
    fn a_missing_permission_names_the_group_to_join() {
        let step = |group: Option<&str>| {
            let group = group.map(str::to_owned);
            OpenError::NoPermission { group }.next_step()
        };
        assert!(step(Some("uucp")).contains("-aG uucp"));
        assert!(step(None).contains("administrator"));
    }
}
