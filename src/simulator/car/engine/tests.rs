//! The engine's physics against sums done by hand, each with its source.

use super::{
    canister::Canister, condition::Condition, controller::Loop, nature::CanisterNature,
    wander::Wander, *,
};
use crate::simulator::car::{
    fleet::{self, CarSpec},
    trip::Trip,
};

/// The command of a warm idle.
const IDLE: Command = Command::Free {
    target_rpm: 750.0,
    load_nm: 0.0,
    idle: true,
};
/// The command of 2500 rpm without load.
const RAISED: Command = Command::Free {
    target_rpm: 2500.0,
    load_nm: 0.0,
    idle: false,
};

fn cruise(torque_nm: f64) -> Command {
    Command::Coupled {
        rpm: 2000.0,
        torque_nm,
    }
}

fn van3() -> &'static CarSpec {
    fleet::car("van3").unwrap()
}

fn wagon2() -> &'static CarSpec {
    fleet::car("wagon2").unwrap()
}

/// An engine exactly as drawn, on unchanging fuel, with its faults.
fn engine(spec: &'static CarSpec, faults: &[&str]) -> Engine {
    let faults: Vec<_> = faults.iter().map(|text| text.parse().unwrap()).collect();
    let mut trip = Trip::warm(7);
    trip.cleared = true;
    let mut engine = Engine::new(spec, Condition::ideal(spec, &faults), &trip, 1);
    engine.wander = Wander::none(spec.banks.len());
    engine.vapour = 0.0;
    engine.canister = Canister::filled(LASTING, 1.0);
    engine
}

/// A canister whose vapour has its stated size all the time.
const LASTING: CanisterNature = CanisterNature {
    fed: 1.0,
    held: 0.0,
    empties_s: 100.0,
    on_average: 1.0,
};

/// Runs until all has settled; returns the mean total fuel trim of each bank over the last minute, percent, and the
/// misfires seen in it by cylinder.
fn settle(engine: &mut Engine, command: Command) -> (Vec<f64>, Vec<u32>) {
    let mut sums = vec![0.0; engine.banks.len()];
    let mut misfires = vec![0; engine.spec.cylinder_count()];
    for step in 0..15_000 {
        let seen = engine.step(command, 0.02);
        if step < 12_000 {
            continue;
        }
        for (sum, bank) in sums.iter_mut().zip(&engine.banks) {
            *sum += 100.0 * (bank.trims.factor() - 1.0) / 3000.0;
        }
        for number in seen.misfires {
            misfires[usize::from(number) - 1] += 1;
        }
    }
    (sums, misfires)
}

fn fuel_trims(spec: &'static CarSpec, faults: &[&str], command: Command) -> Vec<f64> {
    settle(&mut engine(spec, faults), command).0
}

fn fuel_trim(fault: &str, command: Command) -> f64 {
    fuel_trims(van3(), &[fault], command)[0]
}

#[track_caller]
fn near(found: f64, expected: f64, within: f64) {
    assert!(
        (found - expected).abs() < within,
        "{found:.2}, expected {expected} ± {within}"
    );
}

#[test]
fn a_sound_engine_needs_no_trim_anywhere() {
    for spec in &fleet::FLEET {
        for command in [IDLE, RAISED, cruise(40.0)] {
            for found in fuel_trims(spec, &[], command) {
                near(found, 0.0, 0.5);
            }
        }
    }
}

/// The sensor sees the mean of N cylinders: N / (N − r) − 1. Four cylinders: 10 % gives +2.6, 20 % +5.3, 30 % +8.1 %.
#[test]
fn one_restricted_injector_of_four_needs_a_quarter_of_its_loss() {
    near(
        fuel_trim("injector_restricted:3:10", cruise(50.0)),
        2.6,
        0.4,
    );
    near(
        fuel_trim("injector_restricted:3:20", cruise(50.0)),
        5.3,
        0.4,
    );
    near(
        fuel_trim("injector_restricted:3:30", cruise(90.0)),
        8.1,
        0.5,
    );
}

/// One dead of four gives λ 1.333 for the mean: +33 %.
#[test]
fn one_dead_injector_of_four_needs_a_third_more_and_its_cylinder_never_fires() {
    let (found, misfires) = settle(&mut engine(van3(), &["injector_dead:2"]), cruise(50.0));
    near(found[0], 33.3, 1.0);
    // A minute at 2000 rpm: 1000 cycles.
    assert!((990..=1001).contains(&misfires[1]), "{misfires:?}");
    assert_eq!(misfires[0] + misfires[3], 0);
}

/// A MAF sensor that reads a share m needs 1/m − 1: 0.9 gives +11.1 %.
#[test]
fn a_low_maf_sensor_needs_its_inverse_at_any_flow() {
    for command in [IDLE, RAISED, cruise(60.0)] {
        near(fuel_trim("air_meter_low:10", command), 11.1, 0.5);
        near(fuel_trim("air_meter_high:10", command), -9.1, 0.5);
    }
}

/// Set to 385 kPa with the gauge standing still. 20 % more across the injector at an idle with some 65 kPa of vacuum is
/// 1.2 × (385 + 65) − 65 = 475 at the gauge; a weak pump loses less at idle than its stated size.
#[test]
fn the_rail_tells_what_lacks_across_the_injector() {
    let reported = |faults: &[&str]| {
        let mut engine = engine(van3(), faults);
        settle(&mut engine, IDLE);
        let readings = engine.readings();
        let vacuum = readings.barometer_kpa - readings.manifold_kpa;
        (readings.rail.gauge_kpa, vacuum)
    };
    let (sound, _) = reported(&[]);
    assert!((sound - 385.0).abs() < 0.1, "{sound}");
    let (high, vacuum) = reported(&["fuel_pressure_high:20"]);
    let expected = 1.2 * (385.0 + vacuum) - vacuum;
    assert!((high - expected).abs() < 0.5, "{high} {expected}");
    let (low, vacuum) = reported(&["fuel_pressure_low:20"]);
    assert!(low < 385.0 - 0.1 * (385.0 + vacuum), "{low}");
}

/// Flow with the square root of the pressure: 10 % less pressure needs +5.4 %.
#[test]
fn low_fuel_pressure_shows_more_the_more_fuel_is_asked() {
    let mut engine = engine(van3(), &["fuel_pressure_low:10"]);
    let found = settle(&mut engine, cruise(33.0)).0[0];
    near(engine.per_litre(engine.air), 7.0, 0.5);
    near(found, 5.4, 0.5);
    let idle = fuel_trim("fuel_pressure_low:10", IDLE);
    assert!(idle < found - 0.6 && idle > 3.0, "{idle}");
    assert!(fuel_trim("fuel_pressure_low:10", cruise(90.0)) > found + 0.6);
}

/// 15 % of the idle air unmetered: 1/0.85 − 1 = +17.6 % at idle. Choked, the leak stays the same mass: at three times the
/// air it is 5 %.
#[test]
fn an_intake_leak_fades_as_the_air_flow_grows() {
    let mut engine = engine(van3(), &["intake_leak:15"]);
    near(settle(&mut engine, IDLE).0[0], 17.6, 1.5);
    let raised = settle(&mut engine, RAISED).0[0];
    let share = 0.15 * engine.idle_air / engine.air;
    near(raised, 100.0 * (1.0 / (1.0 - share) - 1.0), 0.6);
    assert!(settle(&mut engine, cruise(90.0)).0[0] < 3.0);
}

#[test]
fn a_manifold_pressure_sensor_sees_leaked_air() {
    let van7 = fleet::car("van7").unwrap();
    near(fuel_trims(van7, &["intake_leak:15"], IDLE)[0], 0.0, 0.6);
}

#[test]
fn a_drip_a_stuck_purge_and_a_blend_move_the_trim_as_their_fuel_does() {
    // 40 % of one of four is a tenth of the fuel that need not be injected: −10 % at idle, a third of that at three times
    // the fuel.
    near(fuel_trim("injector_leaking:1:40", IDLE), -10.0, 1.0);
    near(fuel_trim("injector_leaking:1:40", RAISED), -3.1, 0.6);
    near(fuel_trim("purge_stuck:10", IDLE), -10.0, 0.7);
    assert!(fuel_trim("purge_stuck:10", cruise(90.0)) > -2.0);
    // 10.565 g of air a millilitre at E10, 9.988 at E25: +5.8 %.
    for command in [IDLE, cruise(60.0)] {
        near(fuel_trim("fuel_blend:15", command), 5.8, 0.5);
    }
}

/// By hand: a valve that stands open by 0.3 empties charcoal of 10 s wide open within two minutes. Then 0.25 of the vapour is left:
/// of 10 % (and as much as burns its air, 2 %) 3 %, less the 2 % of air that no meter saw.
#[test]
fn a_stuck_purge_gives_less_as_the_canister_empties() {
    let emptying = |charge| {
        let mut engine = engine(van3(), &["purge_stuck:10"]);
        let nature = CanisterNature {
            fed: 0.25,
            held: 0.75,
            empties_s: 10.0,
            on_average: 1.0,
        };
        engine.canister = Canister::filled(nature, charge);
        engine
    };
    near(settle(&mut emptying(1.0), IDLE).0[0], -1.0, 0.5);
    let mut full = emptying(1.0);
    full.condition.nature.faults.purge_stands_open = 0.0001;
    near(settle(&mut full, IDLE).0[0], -10.0, 0.7);
}

#[test]
fn what_one_bank_suffers_shows_on_that_bank() {
    let lean = fuel_trims(
        wagon2(),
        &["injectors_restricted_several:2:15"],
        cruise(60.0),
    );
    near(lean[0], 0.0, 0.5);
    near(lean[1], 17.6, 0.8);
    let idle = Command::Free {
        target_rpm: 680.0,
        load_nm: 0.0,
        idle: true,
    };
    let leak = fuel_trims(wagon2(), &["intake_leak_one_bank:1:8"], idle);
    assert!(leak[0] > 12.0 && leak[1] < 3.0, "{leak:?}");
    let exhaust = fuel_trims(wagon2(), &["exhaust_leak:1:10"], idle);
    near(exhaust[0], 10.0, 1.0);
    near(exhaust[1], 0.0, 0.5);
    assert!(fuel_trims(wagon2(), &["exhaust_leak:1:10"], cruise(90.0))[0] < 2.0);
}

/// 100 g/s over two banks, one bank 20 % down: 40 and 60 g/s against 50: −20 and +20 % (a trade magazine's example).
#[test]
fn a_blocked_exhaust_parts_the_banks_with_rising_flow() {
    let high = Command::Coupled {
        rpm: 3600.0,
        torque_nm: 120.0,
    };
    let mut engine = engine(wagon2(), &["exhaust_blocked_one_bank:1:20"]);
    let found = settle(&mut engine, high).0;
    let taken = 20.0 * (engine.per_litre(engine.air) / 15.0).powi(2).min(1.2);
    assert!(taken > 12.0, "{taken}");
    near(found[0], -taken, 1.0);
    near(found[1], taken, 1.0);
    let idle = settle(&mut engine, IDLE).0;
    near(idle[0], 0.0, 0.7);
    near(idle[1], 0.0, 0.7);
}

#[test]
fn misfires_make_the_sensor_read_lean_whatever_their_cause() {
    for fault in ["ignition_weak:2:20", "misfire_random:5"] {
        let (found, misfires) = settle(&mut engine(van3(), &[fault]), cruise(50.0));
        let share = f64::from(misfires.iter().sum::<u32>()) / 4000.0;
        assert!(share > 0.02, "{misfires:?}");
        // Between a third and the whole of the unburnt share, by how much burns on the way.
        assert!(
            found[0] > 33.0 * share && found[0] < 110.0 * share,
            "{found:?} {share}"
        );
    }
}

#[test]
fn a_restricted_cylinder_misfires_at_idle_rather_than_under_load() {
    let mut engine = engine(van3(), &["injector_restricted:3:33"]);
    let idle = settle(&mut engine, IDLE).1[2];
    let loaded = settle(&mut engine, cruise(90.0)).1[2];
    // Firings in a minute: 375 at idle, 1000 under load.
    assert!(
        idle > 5 && f64::from(loaded) / 1000.0 < f64::from(idle) / 375.0 / 3.0,
        "{idle} {loaded}"
    );
}

#[test]
fn a_cold_engine_warms_up_and_goes_into_closed_loop() {
    let mut trip = Trip::cold(3);
    trip.coolant_c = 15.0;
    let mut engine = Engine::new(van3(), Condition::ideal(van3(), &[]), &trip, 1);
    let run = |engine: &mut Engine, seconds: usize| {
        (0..50 * seconds).for_each(|_| drop(engine.step(cruise(50.0), 0.02)));
        engine.readings()
    };
    let start = run(&mut engine, 5);
    assert!(start.mode == Loop::OpenNotReady && start.lambda < 0.95 && start.coolant_c < 20.0);
    let warm = run(&mut engine, 600);
    assert!(warm.mode == Loop::Closed && (80.0..100.0).contains(&warm.coolant_c));
}

/// A flow bench knows nothing of trims: 30 % less is 0.70 of nominal, a dead one gives nothing, a drip changes nothing.
#[test]
fn an_injector_held_open_gives_what_its_fault_leaves() {
    let worn = engine(
        van3(),
        &[
            "injector_restricted:3:30",
            "injector_dead:2",
            "injector_leaking:4:40",
        ],
    );
    let flows = worn.injector_flows();
    let by_hand = [(1, 1.0), (2, 0.0), (3, 0.70), (4, 1.0)];
    for ((cylinder, flow), (number, expected)) in flows.into_iter().zip(by_hand) {
        assert_eq!(cylinder, number);
        assert!((flow - expected).abs() < 1e-9, "{cylinder}: {flow}");
    }
}
