//! Another file of the rig while the session runs: the rig is set up anew by it, whatever state it is in.

mod support;

use stillhand::link::session::Standing;
use stillhand::profile::{Source, load_rig};
use stillhand_engine::input::{LinkEvent, LinkLoss};
use stillhand_engine::rig::Rig;
use stillhand_rig::Inputs;
use stillhand_wire::ToRig;

use support::desk::Desk;
use support::hall::{self, PER_DEG};

/// The hall's rig with other ends for pan, in deg each way.
fn rig(ends: u32, more: impl Fn(String) -> String) -> Rig {
    let text = hall::RIG.replace("3000 deg", &format!("{ends} deg"));
    let file = load_rig(&Source::new("hall.toml", more(text)));
    file.expect("a good file").rig
}

/// The session goes by `file` from now on, as after a turn of the loop.
fn adopt(desk: &mut Desk, mut file: Rig) {
    desk.velocity = Default::default();
    desk.pass(200);
    desk.events.clear();
    desk.said.clear();
    let (wanted, before) = (file.clone(), desk.session.rig().clone());
    desk.session.adopt(desk.now, &mut file);
    assert_eq!(
        (desk.session.rig(), &file),
        (&wanted, &before),
        "handed back"
    );
}

/// Pan's upper end in the setups said since, in counts.
fn ends(desk: &Desk) -> Vec<Option<i32>> {
    let setup = |said: &ToRig| match said {
        ToRig::Setup(setup) => Some(setup.axes[0].travel.map(|(_, high)| high)),
        _ => None,
    };
    desk.said.iter().filter_map(setup).collect()
}

fn counts(deg: f64) -> Option<i32> {
    Some((deg * PER_DEG).floor() as i32)
}

#[test]
fn a_ready_rig_is_set_up_anew_and_nothing_of_the_old_file_comes_through() {
    let mut desk = Desk::new();
    desk.run(1_000);
    let number = desk.session.number();
    // Mounted the other way up: positions count the other way from the first one on.
    let turned = rig(2_000, |text| text.replace("upright", "underslung"));
    let before = desk.told();
    assert!(before.iter().all(|told| told.position[0] >= 0.0));
    adopt(&mut desk, turned);
    assert_eq!(*desk.session.standing(), Standing::Greeting);
    assert!(
        desk.session.next_event().is_none(),
        "told under the old file"
    );
    desk.pass(600);
    assert_eq!((desk.losses(), desk.met()), (vec![], 1));
    assert_ne!(desk.session.number(), number);
    assert_eq!(ends(&desk), [counts(2_000.0)]);
    let told = desk.told();
    assert!(!told.is_empty() && told.iter().all(|told| told.position[0] < 0.0));
    assert!(matches!(desk.events[0], LinkEvent::Ready(report) if report.axes[0].position < 0.0));
    // And it may be moved.
    desk.velocity[0] = 200 * 1024;
    desk.pass(100);
    assert_eq!(desk.rig.output(0).expect("pan").velocity, 200 * 1024);
}

#[test]
fn a_rig_that_is_held_is_set_up_once_it_is_free_and_not_before() {
    let fault = Inputs {
        faults: 1,
        ..Inputs::default()
    };
    let power = Inputs {
        power: false,
        ..Inputs::default()
    };
    for (inputs, loss) in [(fault, LinkLoss::Fault), (power, LinkLoss::PowerOff)] {
        let mut desk = Desk::new();
        desk.run(1_000);
        desk.rig.set_inputs(inputs);
        desk.pass(25);
        assert_eq!(desk.losses(), [loss]);
        adopt(&mut desk, rig(2_000, |text| text));
        desk.pass(3_000);
        assert_eq!((desk.losses(), desk.met()), (vec![], 0), "{loss:?}");
        desk.rig.set_inputs(Inputs::default());
        desk.pass(1_500);
        assert_eq!((desk.losses(), desk.met()), (vec![], 1), "{loss:?}");
        assert_eq!(ends(&desk).last(), Some(&counts(2_000.0)), "{loss:?}");
    }
}

/// A slip in the rig file is mended while it runs.
#[test]
fn a_rig_that_was_refused_is_greeted_anew() {
    let wrong = hall::RIG.replace("27.777778 counts/deg", "27.5 counts/deg");
    let mut desk = Desk::with(&wrong, hall::config(), 0);
    desk.pass(600);
    assert!(matches!(desk.session.standing(), Standing::Refused(_)));
    adopt(&mut desk, rig(3_000, |text| text));
    desk.pass(600);
    assert_eq!(*desk.session.standing(), Standing::Ready);
}

#[test]
fn a_port_that_is_closed_stays_so() {
    let mut desk = Desk::new();
    desk.meet();
    desk.session.closed();
    adopt(&mut desk, rig(2_000, |text| text));
    assert_eq!(*desk.session.standing(), Standing::Closed);
    assert!(desk.session.next_write().is_none());
}
