//! The laws checker on what the rig's end makes its motors do, a millisecond at a time.
//!
//! Everything is in counts. What is judged here of every test is `ceiling` and `travel`. `smooth` and
//! `loss` are judged where the commands themselves are lawful (`laws.rs`): the rig's end passes a
//! speed on as it comes, so that a test's jump is a jump. `consent`, `quiet` and `sense` are about hands,
//! which a rig's end knows nothing of; `intact` has its own test in `rules.rs`.

use stillhand_laws::{
    AxisFacts, Checker, Event, Facts, Frame, Law, Nanos, Plant, PlantAxis, Set, Travel, Unit,
};
use stillhand_rig::Config;
use stillhand_wire::messages::{AxisSetup, Ramp, VELOCITY_SCALE};

/// A millisecond, the rig's own step.
const STEP: Nanos = Nanos::millis(1);
/// The rig's integer ramps are sampled within 1/16 ms.
const SAMPLED_WITHIN: Nanos = Nanos(62_500);

/// Watches a rig's outputs.
pub struct Judge {
    checker: Checker,
    now: Nanos,
    laws: &'static [Law],
    /// A look counts as a frame every so many milliseconds.
    every: i64,
}

impl Judge {
    /// Of a rig that was just set up.
    pub fn new(config: &Config, setup: &[AxisSetup], laws: &'static [Law]) -> Judge {
        Judge::every(1, config, setup, laws)
    }

    /// The same, which looks at the change of speed over so many milliseconds: within 1/16 ms a jerk can't
    /// be told from one millisecond to the next.
    pub fn every(every: i64, config: &Config, setup: &[AxisSetup], laws: &'static [Law]) -> Judge {
        let axes = config.axes.iter().zip(setup);
        let facts = axes.map(|(config, setup)| AxisFacts {
            name: config.name.as_str().to_owned(),
            unit: Unit::Mm,
            count: 1.0,
            travel: match setup.travel.filter(|_| config.referenced) {
                Some((low, high)) => Travel::Ends {
                    low: f64::from(low),
                    high: f64::from(high),
                },
                None => Travel::Continuous,
            },
            referenced: config.referenced,
            normal: softer(set(setup.stop_plus), set(setup.stop_minus)),
            stop_plus: set(setup.stop_plus),
            stop_minus: set(setup.stop_minus),
            delay: Nanos::ZERO,
            speed_ceiling: f64::from(config.max_speed),
            needs_enable: false,
            plant_speed_error: 0.0,
        });
        let step = Nanos(STEP.0 * every);
        let mut facts = Facts::new(facts.collect(), Vec::new(), step);
        facts.frame_time_error = SAMPLED_WITHIN;
        let mut checker = Checker::new(facts);
        checker.event(Nanos::ZERO, &Event::LinkReady { session: 1 });
        Judge {
            checker,
            now: Nanos::ZERO,
            laws,
            every,
        }
    }

    /// Something happens before the next millisecond.
    pub fn tell(&mut self, event: &Event) {
        self.checker.event(self.now, event);
    }

    /// A millisecond later: what the motors are told (1/1024 count/s), and where the axes are.
    pub fn look(&mut self, motors: &[(i32, i32)]) {
        self.now = self.now + STEP;
        let speed = |(velocity, _): &(i32, i32)| f64::from(*velocity) / f64::from(VELOCITY_SCALE);
        let speeds: Vec<f64> = motors.iter().map(speed).collect();
        let truth: Vec<PlantAxis> = motors
            .iter()
            .map(|motor| PlantAxis {
                position: f64::from(motor.1),
                speed: speed(motor),
            })
            .collect();
        if self.now.0 % (STEP.0 * self.every) == 0 {
            self.checker.event(self.now, &Event::Tick);
            self.checker.frame(self.now, &Frame { speeds: &speeds });
        }
        self.checker.plant(self.now, &Plant { axes: &truth });
    }

    /// Fails the test if a law was broken.
    pub fn verdict(&mut self, case: &str) {
        self.checker.end(self.now);
        let broken: u64 = self.laws.iter().map(|law| self.checker.count(*law)).sum();
        let told: Vec<String> = self
            .checker
            .breaches()
            .iter()
            .map(ToString::to_string)
            .collect();
        assert_eq!(broken, 0, "{case}: laws broken by the rig's end: {told:#?}");
    }
}

fn set(ramp: Ramp) -> Set {
    Set::new(f64::from(ramp.accel), f64::from(ramp.jerk))
}

fn softer(a: Set, b: Set) -> Set {
    Set::new(a.accel.min(b.accel), a.jerk.min(b.jerk))
}
