//! A speed that is kept ends when its stick, once let go, is pushed the other way.

use stillhand_engine::input::{Control, PadEvent, PadId};
use stillhand_engine::output::{Mover, Outputs};
use stillhand_engine::{MAX_AXES, MAX_PADS};

/// So far over that no deadband or curve leaves less than half of the way.
const FAR: f64 = 0.9;

/// What is kept, and what the sticks did since.
#[derive(Default)]
pub struct Kept {
    /// Where the controls of each pad are.
    at: [[f64; Control::ALL.len()]; MAX_PADS],
    /// Per axis, whether all sticks of the pad that keeps its speed were let go since.
    let_go: [bool; MAX_AXES],
}

impl Kept {
    /// A pad does something.
    pub fn event(&mut self, pad: PadId, event: PadEvent) {
        if let PadEvent::Moved(control, value) = event {
            self.at[usize::from(pad.0)][control as usize] = value;
        }
    }

    /// Judges a tick.
    ///
    /// # Errors
    /// The axis whose speed is kept against its stick.
    pub fn judge(&mut self, outputs: &Outputs) -> Result<(), String> {
        let holders = outputs.status.groups.iter().filter_map(|group| group.pad);
        let centred = |pad: PadId| self.at[usize::from(pad.0)].iter().all(|x| *x == 0.0);
        let all_let_go = holders.into_iter().all(centred);
        for (place, axis) in outputs.rigs[0].axes.iter().enumerate() {
            let let_go = &mut self.let_go[place];
            if axis.mover != Mover::Sustain {
                *let_go = false;
                continue;
            }
            let against = axis.demand * axis.speed < 0.0 && axis.demand.abs() > FAR;
            if *let_go && against {
                return Err(format!("axis {place} keeps its speed against its stick"));
            }
            *let_go |= all_let_go;
        }
        Ok(())
    }
}
