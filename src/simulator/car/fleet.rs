//! The vehicles of the demo world: vans and cars of a bakery called Harbour Row. All invented.

use pintle_protocol::service::Services;

use crate::{
    simulator::bus::Bus,
    vehicle::{AirMetering, Injection, Vehicle},
};

/// Everything that a drawing says about a car; how one car differs from its drawing is drawn by chance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CarSpec {
    /// Word for the command line.
    pub id: &'static str,
    /// How the owner calls it.
    pub label: &'static str,
    /// Litres.
    pub displacement_l: f64,
    /// Cylinder numbers of each bank, bank 1 first.
    pub banks: &'static [&'static [u8]],
    /// Where the fuel is injected.
    pub injection: Injection,
    /// How the air is measured.
    pub air_metering: AirMetering,
    /// Good winding resistance of an injector at 20 °C, ohms.
    pub coil_ohms: [f64; 2],
    /// Good rail pressure, kPa.
    pub rail_kpa: [f64; 2],
    /// Warm idle speed, rpm.
    pub idle_rpm: f64,
    /// Mass on the road, kg.
    pub mass_kg: f64,
    /// Engine speed for each km/h of road speed, gear by gear, rpm.
    pub rpm_per_km_h: [f64; 5],
    /// The bus at its diagnostic connector.
    pub bus: Bus,
    /// The services that its controllers answer there.
    pub services: Services,
    /// What fills a CAN frame up to eight bytes, when the controllers do that.
    pub padding: Option<u8>,
    /// Service 01 parameters of the engine controller beyond those that every car of the fleet has.
    pub more_pids: &'static [u8],
    /// Whether a transmission controller answers too.
    pub transmission_answers: bool,
    /// Revolutions after which the controller moves its misfire counters on; 0 moves them at once.
    pub counter_block_rev: f64,
    /// Identification number; the pattern is no manufacturer's.
    pub vin: &'static str,
    /// Calibration identification, 16 characters.
    pub calibration: &'static str,
}

/// Every vehicle of the fleet.
pub static FLEET: [CarSpec; 8] = [
    CarSpec {
        id: "van3",
        label: "van 3",
        displacement_l: 2.0,
        banks: &[&[1, 2, 3, 4]],
        injection: Injection::Port,
        air_metering: AirMetering::Maf,
        coil_ohms: [11.5, 12.5],
        rail_kpa: [370.0, 400.0],
        idle_rpm: 750.0,
        mass_kg: 1900.0,
        rpm_per_km_h: [115.0, 64.0, 42.0, 31.0, 25.0],
        bus: Bus::Can11At500,
        services: Services::SaeJ1979,
        padding: None,
        more_pids: &[0x10, 0x4D],
        transmission_answers: true,
        counter_block_rev: 0.0,
        vin: "000HRBRVAN3000003",
        calibration: "HR-VAN3-2000-A04",
    },
    CarSpec {
        id: "van7",
        label: "van 7",
        displacement_l: 1.6,
        banks: &[&[1, 2, 3, 4]],
        injection: Injection::Port,
        air_metering: AirMetering::Map,
        coil_ohms: [13.0, 15.0],
        rail_kpa: [340.0, 360.0],
        idle_rpm: 780.0,
        mass_kg: 1500.0,
        rpm_per_km_h: [125.0, 70.0, 46.0, 34.0, 28.0],
        bus: Bus::Can11At500,
        services: Services::SaeJ1979,
        padding: Some(0x00),
        more_pids: &[0x0B],
        transmission_answers: false,
        counter_block_rev: 0.0,
        vin: "000HRBRVAN7000007",
        calibration: "HR-VAN7-1600-B11",
    },
    CarSpec {
        id: "wagon2",
        label: "wagon 2",
        displacement_l: 3.0,
        banks: &[&[1, 2, 3], &[4, 5, 6]],
        injection: Injection::Port,
        air_metering: AirMetering::Maf,
        coil_ohms: [11.5, 12.6],
        rail_kpa: [380.0, 410.0],
        idle_rpm: 680.0,
        mass_kg: 2000.0,
        rpm_per_km_h: [105.0, 58.0, 38.0, 27.0, 21.0],
        bus: Bus::Can29At500,
        services: Services::SaeJ1979,
        padding: Some(0xAA),
        more_pids: &[0x08, 0x09, 0x0B, 0x10, 0x18, 0x19, 0x4D],
        transmission_answers: true,
        counter_block_rev: 0.0,
        vin: "000HRBRWGN2000002",
        calibration: "HR-WGN2-3000-C02",
    },
    CarSpec {
        id: "pickup1",
        label: "pickup 1",
        displacement_l: 5.0,
        banks: &[&[1, 3, 5, 7], &[2, 4, 6, 8]],
        injection: Injection::Port,
        air_metering: AirMetering::Maf,
        coil_ohms: [11.0, 14.5],
        rail_kpa: [385.0, 425.0],
        idle_rpm: 620.0,
        mass_kg: 3300.0,
        rpm_per_km_h: [95.0, 52.0, 34.0, 24.0, 18.0],
        bus: Bus::Can11At250,
        services: Services::SaeJ1979,
        padding: Some(0x55),
        more_pids: &[0x08, 0x09, 0x10, 0x18, 0x19],
        transmission_answers: true,
        counter_block_rev: 200.0,
        vin: "000HRBRPKP1000001",
        calibration: "HR-PKP1-5000-D07",
    },
    CarSpec {
        id: "hatch5",
        label: "hatch 5",
        displacement_l: 1.5,
        banks: &[&[1, 2, 3]],
        injection: Injection::Direct,
        air_metering: AirMetering::Map,
        coil_ohms: [1.3, 1.9],
        rail_kpa: [5000.0, 20000.0],
        idle_rpm: 820.0,
        mass_kg: 1250.0,
        rpm_per_km_h: [120.0, 68.0, 45.0, 33.0, 26.0],
        bus: Bus::Can11At500,
        services: Services::SaeJ1979,
        padding: Some(0x00),
        more_pids: &[0x0B, 0x23, 0x52, 0x6D],
        transmission_answers: false,
        counter_block_rev: 0.0,
        vin: "000HRBRHTC5000005",
        calibration: "HR-HTC5-1500-E03",
    },
    CarSpec {
        id: "van8",
        label: "van 8",
        displacement_l: 1.6,
        banks: &[&[1, 2, 3, 4]],
        injection: Injection::Port,
        air_metering: AirMetering::Maf,
        coil_ohms: [12.0, 13.5],
        rail_kpa: [370.0, 400.0],
        idle_rpm: 740.0,
        mass_kg: 1750.0,
        rpm_per_km_h: [122.0, 66.0, 43.0, 32.0, 26.0],
        bus: Bus::Can11At500,
        services: Services::Iso14229,
        padding: Some(0xAA),
        more_pids: &[0x10, 0x4D],
        transmission_answers: true,
        counter_block_rev: 0.0,
        vin: "000HRBRVAN8000008",
        calibration: "HR-VAN8-1600-D02",
    },
    CarSpec {
        id: "van1",
        label: "van 1",
        displacement_l: 1.8,
        banks: &[&[1, 2, 3, 4]],
        injection: Injection::Port,
        air_metering: AirMetering::Map,
        coil_ohms: [13.5, 15.5],
        rail_kpa: [290.0, 320.0],
        idle_rpm: 800.0,
        mass_kg: 1600.0,
        rpm_per_km_h: [122.0, 68.0, 45.0, 33.0, 27.0],
        bus: Bus::Iso9141,
        services: Services::SaeJ1979,
        padding: None,
        more_pids: &[0x0B],
        transmission_answers: false,
        counter_block_rev: 0.0,
        vin: "000HRBRVAN1000001",
        calibration: "HR-VAN1-1800-A01",
    },
    CarSpec {
        id: "pickup4",
        label: "pickup 4",
        displacement_l: 4.2,
        banks: &[&[1, 2, 3], &[4, 5, 6]],
        injection: Injection::Port,
        air_metering: AirMetering::Maf,
        coil_ohms: [11.5, 13.5],
        rail_kpa: [380.0, 415.0],
        idle_rpm: 660.0,
        mass_kg: 2600.0,
        rpm_per_km_h: [98.0, 54.0, 36.0, 26.0, 20.0],
        bus: Bus::J1850Vpw,
        services: Services::SaeJ1979,
        padding: None,
        more_pids: &[0x08, 0x09, 0x10, 0x18, 0x19],
        transmission_answers: true,
        counter_block_rev: 0.0,
        vin: "000HRBRPKP4000004",
        calibration: "HR-PKP4-4200-B02",
    },
];

/// The vehicle with this id (`van3`, `van7`, `wagon2`, `pickup1`, `hatch5`, the newer `van8`, and from before CAN `van1`,
/// `pickup4`).
pub fn car(id: &str) -> Option<&'static CarSpec> {
    FLEET.iter().find(|spec| spec.id == id)
}

impl CarSpec {
    /// The vehicle file that the owner keeps of it.
    pub fn vehicle(&self) -> Vehicle {
        Vehicle {
            label: Some(self.label.to_owned()),
            cylinders: Some(self.cylinder_count() as u8),
            banks: Some(self.banks.iter().map(|bank| bank.to_vec()).collect()),
            displacement_l: Some(self.displacement_l),
            injection: Some(self.injection),
            air_metering: Some(self.air_metering),
            coil_ohms: Some(self.coil_ohms),
            rail_kpa: Some(self.rail_kpa),
            fuel: Some("E10".to_owned()),
            ..Vehicle::default()
        }
    }

    /// Number of cylinders.
    pub fn cylinder_count(&self) -> usize {
        self.banks.iter().map(|bank| bank.len()).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_vehicle_file_of_the_fleet_is_sound() {
        for spec in &FLEET {
            let text = toml::to_string(&spec.vehicle()).unwrap();
            assert_eq!(Vehicle::from_toml(&text).unwrap(), spec.vehicle(), "{text}");
            assert_eq!(car(spec.id), Some(spec));
            assert_eq!((spec.vin.len(), spec.calibration.len()), (17, 16));
        }
    }
}
