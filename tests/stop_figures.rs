//! What an operator is told of a stop, in the status and by `check`, against what it then takes: as
//! commanded, and by the mechanics at the rig's end. `tests/reference_motion.rs` holds the same
//! calculation against ruckig, `tests/faults.rs` against the bench rig behind a real port.

use stillhand::cli::figures::figures;
use stillhand::profile::{RigFile, builtin, load_operator, load_rig};
use stillhand::soak::random::Random;
use stillhand::soak::rigs::{hands, one_axis};
use stillhand::soak::world::{World, WorldOptions};
use stillhand_engine::input::{Button, Control, Order, PadEvent, PadId};
use stillhand_engine::operator::{Operator, Source};
use stillhand_engine::rig::Rig;
use stillhand_engine::time::Span;

const PAD: PadId = PadId(0);

/// Between the telling and the stop passes one turn, and a stop is over in the turn after its last
/// bit of speed: so many turns at the most.
const TURNS: f64 = 2.0;

/// How much of what `check` says at the most is seen at least: its worst state, still gaining at the
/// full rate as late as can be, is passed between two turns.
const SEEN: f64 = 0.85;

/// Share of the time by which a stop may be over early: its last bit of speed, less than the wire can
/// tell, takes long where the jerk is low.
const EARLY: f64 = 0.01;

/// From the command to the mechanics of a world: the line (1 ms), the rig's own delay (10 ms), and its
/// steps of a millisecond.
const FAR_S: f64 = 0.013;

/// One stop.
#[derive(Debug)]
struct Stopped {
    told_s: f64,
    told_way: f64,
    took_s: f64,
    way: f64,
    true_way: f64,
    /// The fastest while it stopped, unit/s.
    peak: f64,
    period_s: f64,
    count: f64,
}

impl Stopped {
    /// Told right: the time to two turns and a hundredth; the way as commanded to what those turns cover and a count,
    /// the way of the mechanics to what they lag behind besides.
    fn check(&self, what: &str) {
        let late = TURNS * self.period_s;
        let early = self.told_s * (1.0 - EARLY) - late;
        assert!(self.took_s <= self.told_s + late, "{what}: long: {self:?}");
        // What is less than a count is not seen.
        let short = self.took_s < early && self.told_way > self.count;
        assert!(!short, "{what}: short: {self:?}");
        let room = self.peak * late + self.count;
        assert!(
            (self.way - self.told_way).abs() <= room,
            "{what}: the way: {self:?}"
        );
        let room = room + self.peak * FAR_S + self.count;
        assert!(
            (self.true_way - self.told_way).abs() <= room,
            "{what}: the true way: {self:?}"
        );
    }
}

fn driven(rig: &Rig, operator: &Operator, period: Span) -> World {
    let options = WorldOptions {
        period,
        line_delay: Span::from_millis(1),
        ..WorldOptions::default()
    };
    let mut world = World::new(rig, operator, options).expect("a valid world");
    world.plug(PAD);
    for control in Control::ALL {
        world.pad(PAD, PadEvent::Moved(control, 0.0));
    }
    world.run(0.4);
    assert!(world.ready());
    world
}

/// Stops by command now, and waits until the mechanics rest.
fn stop(world: &mut World, axis: usize, period: Span) -> Stopped {
    let told = world.outputs().rigs[0].axes[axis];
    let count = 1.0 / world.rig().axes[axis].counts_per_unit;
    let (began, from, signed) = (world.now(), world.truth(axis), told.speed);
    let mut stopped = Stopped {
        told_s: told.stop_time,
        told_way: told.stop_distance,
        took_s: 0.0,
        way: 0.0,
        true_way: 0.0,
        peak: signed.abs(),
        period_s: period.secs(),
        count,
    };
    world.command_stop();
    for _ in 0..200_000 {
        world.tick();
        let speed = world.outputs().rigs[0].axes[axis].speed;
        stopped.peak = stopped.peak.max(speed.abs());
        stopped.way += speed.abs() * period.secs();
        if speed != 0.0 {
            stopped.took_s = world.now().since(began).secs();
        } else if world.true_speed(axis) == 0.0 {
            break;
        }
    }
    stopped.true_way = (world.truth(axis) - from).abs();
    stopped
}

/// Lets the stop go, and the stick be seen centred.
fn release(world: &mut World, stick: Control) {
    world.pad(PAD, PadEvent::Moved(stick, 0.0));
    world.run(0.3);
    world.pad(PAD, PadEvent::Pressed(Button::Start, true));
    world.run(0.7);
    world.pad(PAD, PadEvent::Pressed(Button::Start, false));
    world.run(0.3);
}

/// Random axes under random hands, stopped while they gain, keep or lose speed.
#[test]
fn the_status_tells_what_a_stop_will_take() {
    let mut moving = 0;
    for seed in 0..300 {
        let mut random = Random::new(seed);
        let rig = one_axis(&mut random);
        let operator = hands(&rig, &mut random);
        let period = Span::from_micros(random.pick(&[1_000, 4_000, 10_000]));
        let mut world = driven(&rig, &operator, period);
        world.pad(PAD, PadEvent::Pressed(Button::Tr, true));
        for _ in 0..4 {
            world.pad(PAD, PadEvent::Moved(Control::Rx, random.between(-1.0, 1.0)));
            world.run(random.between(0.05, 1.5));
            world.pad(PAD, PadEvent::Moved(Control::Rx, random.between(-1.0, 1.0)));
            world.run(random.between(0.0, 0.5));
            let stopped = stop(&mut world, 0, period);
            stopped.check(&format!("seed {seed}"));
            moving += u32::from(stopped.told_way > stopped.count);
            release(&mut world, Control::Rx);
        }
        world
            .verdict()
            .unwrap_or_else(|breaches| panic!("seed {seed}: {breaches}"));
    }
    assert!(moving > 600, "only {moving} of 1,200 were moving");
}

/// Every axis the shipped operators drive on the bench rig, in the fastest gear, stopped at many
/// moments of a full stick: no stop takes longer or goes further than `check` says, and the worst
/// found comes close to it.
#[test]
fn check_tells_the_longest_stop() {
    let rig = load_rig(&builtin::BENCH_RIG.source()).expect("shipped");
    for shipped in builtin::OPERATORS {
        let file = load_operator(&shipped.source()).expect("shipped");
        let operator = file.resolve(std::slice::from_ref(&rig.rig)).expect("fits");
        for (place, told) in figures(&rig, &operator).iter().enumerate() {
            let what = format!("{}, {}", operator.name, told.axis);
            let (time, way) = worst_found(&rig, &operator, place, &what);
            let room = told.top_speed * TURNS * 0.004;
            assert!(
                time <= told.stop.seconds + TURNS * 0.004,
                "{what}: {time} s: {:?}",
                told.stop
            );
            assert!(
                way <= told.stop.distance + room,
                "{what}: {way}: {:?}",
                told.stop
            );
            assert!(
                time >= SEEN * told.stop.seconds,
                "{what}: {time} s: {:?}",
                told.stop
            );
            assert!(
                way >= SEEN * told.stop.distance - room,
                "{what}: {way}: {:?}",
                told.stop
            );
        }
    }
}

/// The longest time and way of stops at 120 moments of a full stick, either way.
fn worst_found(rig: &RigFile, operator: &Operator, place: usize, what: &str) -> (f64, f64) {
    let hand = &operator.hands[place];
    let Some(Source::Stick(stick)) = hand.control else {
        panic!("{what}: driven by a stick as shipped");
    };
    let period = Span::from_millis(4);
    let axis = usize::from(hand.axis);
    let mut worst = (0.0f64, 0.0f64);
    // From rest to the full speed, by the operator's time or, where that is longer, the rig's set.
    let (full, set) = (
        hand.gears.speed(hand.gears.count() - 1).0,
        rig.rig.axes[axis].limits.normal(),
    );
    let by_rig = full / set.accel.0 + set.accel.0 / set.jerk.0;
    let gain_s = hand.gain.secs().max(by_rig);
    for moment in 1..=120 {
        let mut world = driven(&rig.rig, operator, period);
        let top = hand.gears.count() - 1;
        world.order(Order::Gear {
            group: hand.group,
            gear: top,
        });
        let way = if moment % 2 == 0 { 1.0 } else { -1.0 };
        world.pad(PAD, PadEvent::Moved(stick, way));
        world.run(0.02 + gain_s * f64::from(moment) / 100.0);
        let stopped = stop(&mut world, axis, period);
        stopped.check(what);
        worst = (worst.0.max(stopped.took_s), worst.1.max(stopped.way));
        world
            .verdict()
            .unwrap_or_else(|breaches| panic!("{what}: {breaches}"));
    }
    worst
}
