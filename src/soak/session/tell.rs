//! A session told as a story on stderr, for whoever looks for what broke a law: `TELL=1` tells what hands
//! did and what the engine said of it, `TELL=2` also every axis in every tick.

use stillhand_engine::output::Outputs;
use stillhand_engine::time::Time;

/// How much is told.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Tell {
    /// Nothing.
    Nothing,
    /// What was done and what was said.
    Story,
    /// Also every axis in every tick.
    Axes,
}

impl Tell {
    /// As the environment says.
    pub fn from_env() -> Tell {
        match std::env::var("TELL").as_deref() {
            Ok("1") => Tell::Story,
            Ok("2") => Tell::Axes,
            _ => Tell::Nothing,
        }
    }

    /// Something was done.
    pub fn done(self, at: Time, what: impl std::fmt::Debug) {
        if self >= Tell::Story {
            eprintln!("{:.3} {what:?}", secs(at));
        }
    }

    /// What a tick produced, for the first `axes` axes.
    pub fn tick(self, at: Time, outputs: &Outputs, axes: usize) {
        if self >= Tell::Axes {
            for (place, axis) in outputs.rigs[0].axes.iter().enumerate().take(axes) {
                eprintln!("{:.3} axis {place} {axis:?}", secs(at));
            }
        }
        for notice in outputs.notices.iter() {
            self.done(at, notice);
        }
    }
}

fn secs(at: Time) -> f64 {
    at.since(Time(0)).secs()
}
