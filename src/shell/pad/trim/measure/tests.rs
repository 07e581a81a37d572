//! A pad that does what it is asked, and some that don't.

use super::judge::{Doubt, Found, Gate, judge};
use super::*;

/// A hand at a pad: each deed as events in time.
struct Hand {
    course: Course,
    ms: u64,
    off: [f64; 2],
}

impl Hand {
    fn new() -> Hand {
        Hand {
            course: Course::new(Time::default()),
            ms: 0,
            off: [0.02, -0.01],
        }
    }

    fn wait(&mut self, ms: u64) {
        for _ in 0..ms / 10 {
            self.ms += 10;
            self.course.look(Time(self.ms * 1_000_000));
        }
    }

    fn hear(&mut self, event: PadEvent) {
        self.course.hear(Time(self.ms * 1_000_000), event);
    }

    fn stick(&mut self, x: f64, y: f64) {
        for (control, x) in [(Control::Lx, x), (Control::Ly, y)] {
            self.hear(PadEvent::Moved(control, x));
        }
    }

    fn start(&mut self) {
        self.wait(1_100);
        self.hear(PadEvent::Pressed(Button::Start, true));
        self.hear(PadEvent::Pressed(Button::Start, false));
    }

    /// Lets go `n` times, to alternating sides of the middle.
    fn release(&mut self, n: usize, scatter: f64) {
        for n in 0..n {
            let side = if n % 2 == 0 { scatter } else { -scatter };
            self.stick(0.9, 0.1);
            self.wait(100);
            self.stick(self.off[0] + side, self.off[1]);
            self.wait(500);
        }
    }

    fn round(&mut self, laps: f64, rim: impl Fn(f64) -> f64) {
        let steps = (laps * 120.0) as i32;
        for step in 0..=steps {
            let angle = f64::from(step) / 120.0 * std::f64::consts::TAU;
            let r = rim(angle);
            let at = |along: f64, off: f64| (off + r * along).clamp(-1.0, 1.0);
            self.stick(at(angle.cos(), self.off[0]), at(angle.sin(), self.off[1]));
            self.wait(20);
        }
        self.stick(self.off[0], self.off[1]);
    }

    fn pull(&mut self, n: usize, full: f64) {
        for _ in 0..n {
            for x in [full, 0.02] {
                self.hear(PadEvent::Moved(Control::Lt, x));
                self.wait(300);
            }
        }
    }

    fn hold(&mut self, every_ms: u64) {
        self.stick(0.5, 0.0);
        for n in 0..10_000 / every_ms {
            self.wait(every_ms);
            self.hear(PadEvent::Moved(Control::Lx, 0.5 + 0.001 * (n % 2) as f64));
        }
    }

    fn found(&self) -> Result<Found, Vec<Doubt>> {
        judge(&self.course)
    }
}

fn good() -> Hand {
    let mut hand = Hand::new();
    hand.release(12, 0.01);
    hand.start();
    hand.wait(5_000);
    assert_eq!(hand.course.phase(), Some(Phase::Circle), "by itself");
    hand.round(3.1, |_| 0.9);
    assert_eq!(hand.course.phase(), Some(Phase::Pull), "by itself");
    hand.pull(3, 0.8);
    hand.start();
    hand.hold(50);
    assert_eq!(hand.course.phase(), None, "by itself");
    hand
}

/// What a finger does before a pull says nothing of where the trigger rests.
#[test]
fn a_finger_that_waits_before_a_pull_is_no_rest() {
    let mut hand = Hand::new();
    hand.release(12, 0.01);
    hand.start();
    hand.wait(5_000);
    hand.round(3.1, |_| 0.9);
    for _ in 0..3 {
        hand.hear(PadEvent::Moved(Control::Lt, 0.25));
        hand.wait(400);
        hand.pull(1, 0.8);
    }
    hand.start();
    hand.hold(50);
    let found = hand.found().expect("trusted");
    let trim = found.triggers.first().expect("pulled").trim;
    assert_eq!((trim.rest(), trim.full()), (0.02, 0.8));
}

#[test]
fn a_good_course_gives_what_the_pad_is() {
    let found = good().found().expect("trusted");
    let [left] = &found.sticks[..] else {
        panic!("{found:?}")
    };
    let [x, y] = left.directions;
    assert!((x.trim.centre() - 0.02).abs() < 1e-9 && (y.trim.centre() + 0.01).abs() < 1e-9);
    assert!((x.scatter - 0.01).abs() < 1e-9 && x.noise < 1e-9);
    assert!((x.trim.rest() - judge::LEAST_REST).abs() < 1e-9, "{x:?}");
    assert!((x.trim.plus() - 0.92).abs() < 1e-3 && (x.trim.minus() + 0.88).abs() < 1e-3);
    assert_eq!((left.releases, left.gate), (12, Gate::Round));
    assert!(left.missing.is_empty());
    let [trigger] = &found.triggers[..] else {
        panic!("{found:?}")
    };
    assert_eq!((trigger.trim.rest(), trigger.trim.full()), (0.02, 0.8));
    assert_eq!((found.deadband, found.saturation), (0.03, 0.95));
    let life = found.life.expect("held");
    assert_eq!(life.longest, Span::from_millis(50));
    assert_eq!(life.bound(), Some(Span::from_millis(300)));
}

#[test]
fn gates_and_missing_corners_are_told_apart() {
    let with = |rim: fn(f64) -> f64| {
        let mut hand = Hand::new();
        hand.release(6, 0.0);
        hand.start();
        hand.start();
        hand.wait(10);
        hand.round(3.1, rim);
        hand.start();
        hand.start();
        hand.found()
    };
    // A press of start that comes while rest is too short is taken, and the rest is not trusted.
    assert_eq!(with(|_| 0.9), Err(vec![Doubt::NoRest("left")]));

    let with = |rim: fn(f64) -> f64| {
        let mut hand = Hand::new();
        hand.release(6, 0.0);
        hand.start();
        hand.wait(5_000);
        hand.round(3.1, rim);
        hand.start();
        hand.start();
        hand.found().expect("trusted").sticks.remove(0)
    };
    let square = with(|a| 0.9 / a.cos().abs().max(a.sin().abs()));
    assert_eq!(square.gate, Gate::Square);
    assert!(square.missing.is_empty());
    // From 100 to 170 degrees the rim is worn in.
    let worn = with(|a| {
        if (1.75..2.97).contains(&(a % std::f64::consts::TAU)) {
            0.6
        } else {
            0.9
        }
    });
    assert_eq!(worn.gate, Gate::Round);
    let names: Vec<&str> = worn.missing.iter().map(|(name, _)| *name).collect();
    assert_eq!(names, ["up and left"]);
}

#[test]
fn what_was_not_done_is_not_trusted() {
    let mut hand = Hand::new();
    assert_eq!(hand.found(), Err(vec![Doubt::Unfinished(Phase::Release)]));
    for _ in 0..5 {
        hand.start();
    }
    assert_eq!(hand.found(), Err(vec![Doubt::Nothing]));

    let mut hand = good();
    hand.hear(PadEvent::Unplugged);
    assert_eq!(hand.found(), Err(vec![Doubt::Gone]));

    let mut hand = Hand::new();
    hand.release(3, 0.0);
    hand.start();
    hand.wait(5_000);
    hand.round(1.5, |_| 0.9);
    for _ in 0..3 {
        hand.start();
    }
    let doubts = hand.found().expect_err("too little");
    assert!(matches!(
        doubts[..],
        [Doubt::Releases("left", 3), Doubt::Laps("left", _)]
    ));
}

#[test]
fn a_broken_stick_gets_no_trim() {
    let with = |off: f64, scatter: f64, reach: f64| {
        let mut hand = Hand::new();
        hand.off = [off, 0.0];
        hand.release(12, scatter);
        hand.start();
        hand.wait(5_000);
        hand.round(3.1, |_| reach);
        hand.start();
        hand.start();
        hand.found().map(|_| ())
    };
    assert_eq!(with(0.0, 0.02, 0.9), Ok(()));
    let only = |doubts: Result<(), Vec<Doubt>>| doubts.expect_err("broken").remove(0);
    assert!(matches!(
        only(with(0.0, 0.19, 0.9)),
        Doubt::Loose(Control::Lx, _)
    ));
    assert!(matches!(
        only(with(0.27, 0.0, 0.9)),
        Doubt::Off(Control::Lx, _)
    ));
    assert!(matches!(
        only(with(0.0, 0.0, 0.45)),
        Doubt::Reach(Control::Lx, _)
    ));
}

#[test]
fn a_press_right_after_a_part_ended_by_itself_skips_nothing() {
    let mut hand = Hand::new();
    hand.release(12, 0.0);
    hand.start();
    hand.wait(5_010);
    hand.hear(PadEvent::Pressed(Button::Start, true));
    assert_eq!(hand.course.phase(), Some(Phase::Circle));
}

#[test]
fn a_stick_that_is_touched_begins_its_rest_anew() {
    let mut hand = Hand::new();
    hand.release(12, 0.0);
    hand.start();
    hand.wait(4_000);
    hand.stick(0.6, 0.0);
    hand.wait(500);
    hand.stick(0.0, 0.0);
    hand.wait(3_000);
    assert_eq!(hand.course.phase(), Some(Phase::Rest));
}

/// A pad that says nothing while it is held can't be missed soon.
#[test]
fn silence_of_a_pad_that_is_silent_means_nothing() {
    let mut hand = good();
    hand.course.life = Life::default();
    hand.course.phase = Some(Phase::Hold);
    hand.stick(0.5, 0.0);
    hand.wait(10_100);
    let life = hand.found().expect("trusted").life.expect("held");
    assert_eq!(life.bound(), None);
    assert!(life.longest >= Span::from_millis(9_900), "{life:?}");
}
