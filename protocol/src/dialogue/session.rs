//! What is known about adapter and car, gathered by set-up and discovery.

use super::event::{AdapterInfo, Connection, Controller};
use super::supported::Supported;
use crate::{
    adapter::{Command, Form},
    bus::{Framing, Protocol, address::Address},
    service::Services,
};

/// Knowledge of one connection.
#[derive(Debug, Default)]
pub(super) struct Session {
    pub adapter: AdapterInfo,
    pub voltage: Option<f64>,
    pub protocol: Option<Protocol>,
    pub form: Option<Form>,
    /// The services that the controllers answer.
    pub services: Services,
    controllers: Vec<Controller>,
}

impl Session {
    /// The form of answers; before anything is known, the most common one.
    pub fn form(&self) -> Form {
        self.form.unwrap_or(Form {
            framing: Framing::Can11,
            headers: true,
            full_frames: false,
        })
    }

    /// Remembers a setting that the adapter did not take.
    pub fn refused(&mut self, setting: &'static str) {
        if !self.adapter.refused.contains(&setting) {
            self.adapter.refused.push(setting);
        }
    }

    /// Whether the adapter once took the setting that nothing be sent back.
    pub fn echo_is_off(&self) -> bool {
        let echo_off = Command::EchoOff.setting();
        !self
            .adapter
            .refused
            .iter()
            .any(|setting| Some(*setting) == echo_off)
    }

    /// Adds a support mask of a service of SAE J1979, however it was asked for, to what a controller supports.
    pub fn add_mask(&mut self, from: Option<Address>, service: u8, base: u8, mask: [u8; 4]) {
        let place = self.controllers.iter().position(|c| c.address == from);
        let place = place.unwrap_or_else(|| {
            self.controllers.push(Controller {
                address: from,
                parameters: Supported::default(),
                monitors: Supported::default(),
                information: Supported::default(),
            });
            self.controllers.len() - 1
        });
        let Some(controller) = self.controllers.get_mut(place) else {
            return;
        };
        match service {
            0x01 => controller.parameters.add_mask(base, mask),
            0x06 => controller.monitors.add_mask(base, mask),
            _ => controller.information.add_mask(base, mask),
        }
    }

    /// Whether any controller supports an item of a service.
    pub fn supports(&self, service: u8, item: u8) -> bool {
        self.controllers.iter().any(|controller| match service {
            0x01 => controller.parameters.contains(item),
            0x06 => controller.monitors.contains(item),
            _ => controller.information.contains(item),
        })
    }

    /// Whether any controller answered.
    pub fn has_controllers(&self) -> bool {
        !self.controllers.is_empty()
    }

    /// Whether any controller reports engine speed.
    pub fn has_engine(&self) -> bool {
        self.supports(0x01, 0x0C)
    }

    /// Takes all controllers out, to put them back or to find others.
    pub fn take_controllers(&mut self) -> Vec<Controller> {
        std::mem::take(&mut self.controllers)
    }

    /// Goes back to these controllers.
    pub fn put_back(&mut self, controllers: Vec<Controller>) {
        self.controllers = controllers;
    }

    /// The connection as it is told to the caller, the engine controller first.
    pub fn connection(&self) -> Connection {
        let mut controllers = self.controllers.clone();
        controllers.sort_by_key(|controller| (likeness(controller), controller.address));
        Connection {
            adapter: self.adapter.clone(),
            voltage: self.voltage,
            protocol: self
                .protocol
                .unwrap_or(Protocol::Unnamed(self.form().framing)),
            services: self.services,
            controllers,
        }
    }
}

/// How much a controller looks like the engine's, 0 the most: fuel trim and engine speed, engine
/// speed, neither.
fn likeness(controller: &Controller) -> u8 {
    let has = |item| controller.parameters.contains(item);
    match (has(0x06), has(0x0C)) {
        (true, true) => 0,
        (_, true) => 1,
        _ => 2,
    }
}
