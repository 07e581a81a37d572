//! What happened when, to be printed around a failure.

use stillhand::cli::words;
use stillhand::soak::world::World;
use stillhand_engine::time::Span;

/// How much before and after a failure is shown.
const BEFORE_S: f64 = 1.5;
const AFTER_S: f64 = 0.3;
/// How often the state is noted where nothing happens.
const EVERY: Span = Span::from_millis(100);

#[derive(Default)]
pub struct Timeline {
    rows: Vec<(Span, String)>,
    next: Span,
}

impl Timeline {
    pub fn note(&mut self, at: Span, what: impl Into<String>) {
        self.rows.push((at, what.into()));
    }

    /// Notes how things stand if that is due.
    pub fn look(&mut self, at: Span, world: &World) {
        if at >= self.next {
            self.next = Span(at.0 + EVERY.0);
            self.rows.push((at, standing(world)));
        }
    }

    /// What happened around this time.
    pub fn around(&self, at: Span) -> String {
        let near = BEFORE_S.mul_add(-1.0, at.secs())..at.secs() + AFTER_S;
        let rows = self.rows.iter().filter(|(t, _)| near.contains(&t.secs()));
        rows.map(|(t, what)| format!("  {:9.3}  {what}\n", t.secs()))
            .collect()
    }
}

/// One line for a moment.
fn standing(world: &World) -> String {
    let outputs = world.outputs();
    let status = outputs.status;
    let mut line = format!(
        "{:9} gear {}",
        words::state(status.state),
        status.groups[0].gear + 1
    );
    for (place, axis) in world.rig().axes.iter().enumerate() {
        line += &format!(
            "  {} {:.3} at {:.3}",
            axis.name,
            world.speeds()[place],
            world.truth(place)
        );
    }
    line
}
