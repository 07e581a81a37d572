//! A creep so slow that whole counts a second would lose it.

use stillhand::soak::rigs;

use stillhand::soak::world::{World, WorldOptions};
use stillhand_engine::feel::{Curve, Throw};
use stillhand_engine::input::{Control, PadEvent, PadId};
use stillhand_engine::operator::{
    Gears, Groups, Hand, Operator, Quiet, Source, StickShape, Sticks,
};
use stillhand_engine::rig::{Axis, Ends, LimitSet, Limits, Sense, Travel};
use stillhand_engine::time::Span;
use stillhand_engine::units::{Accel, Jerk, Pos, Speed, Unit};

const PAD: PadId = PadId(0);
const CREEP: f64 = 0.01;

/// 0.01 deg/s for 60 s on 27.8 counts/deg (a 200-step motor, full steps, 50:1) is 0.28
/// count/s: the axis must be within a count of where the operator expects it all the way.
#[test]
fn a_creep_of_a_hundredth_degree_a_second_is_kept_to_a_count() {
    let set = |accel, jerk| LimitSet {
        accel: Accel(accel),
        jerk: Jerk(jerk),
    };
    let axis = Axis {
        name: "pan".to_owned(),
        unit: Unit::Deg,
        counts_per_unit: 10_000.0 / 360.0,
        sense: Sense::Same,
        travel: Travel::Finite(Ends::new(Pos(-170.0), Pos(170.0)).expect("low below high")),
        speed: Speed(60.0),
        limits: Limits::new(set(120.0, 600.0), set(240.0, 2_400.0), set(240.0, 2_400.0))
            .expect("stop at least normal"),
        reach_mm: 1000.0,
        needs_enable: false,
        may_lower_current: false,
    };
    let rig = rigs::rig(vec![axis]);
    let operator = Operator {
        name: "creep".to_owned(),
        hands: vec![Hand {
            rig: 0,
            axis: 0,
            group: 0,
            control: Some(Source::Stick(Control::Rx)),
            fine: None,
            framing: None,
            quiet: Quiet::NotMeasured,
            inch: None,
            invert: false,
            throw: Throw::new(0.1, 0.95).expect("apart"),
            curve: Curve::linear(),
            steady: None,
            gears: Gears::new(&[Speed(CREEP)]).expect("one gear"),
            ceiling: None,
            gain: Span::from_millis(100),
            lose: Span::from_millis(100),
        }],
        sticks: Sticks {
            left: StickShape::Axial { wedge_tan: 0.0 },
            right: StickShape::Axial { wedge_tan: 0.0 },
        },
        groups: Groups::single(),
        speed_trigger: None,
        enable: None,
        starts_quiet: false,
        shakes: stillhand_engine::operator::Shakes::Never,
        bindings: rigs::bindings(),
        first_gear: 0,
    };
    let mut world = World::new(&rig, &operator, WorldOptions::default()).expect("a valid world");
    world.plug(PAD);
    world.pad(PAD, PadEvent::Moved(Control::Rx, 0.0));
    world.run(0.5);
    world.pad(PAD, PadEvent::Moved(Control::Rx, 1.0));
    // Up to speed, and the mechanics' delay is over.
    world.run(0.5);
    let (began, from) = (world.now(), world.truth(0));
    let count = 360.0 / 10_000.0;
    while world.now().since(began) < Span::from_millis(60_000) {
        world.tick();
        let expected = from + CREEP * world.now().since(began).secs();
        let off = (world.truth(0) - expected).abs() / count;
        assert!(
            off <= 1.0,
            "{off} counts off after {:?}",
            world.now().since(began)
        );
    }
    assert!((world.truth(0) - from) / count > 16.0, "it did not creep");
    if let Err(breaches) = world.verdict() {
        panic!("{breaches}");
    }
}
