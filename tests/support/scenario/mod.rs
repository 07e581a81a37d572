//! Scenarios as text: what people and machines do, and what must come of it, in virtual time.
//!
//! `tests/scenarios/README.md` is the page for those who write them.

mod cover;
mod elsewhere;
mod errand;
mod expect;
mod head;
mod play;
mod presses;
mod read;
mod rows;
mod timeline;
#[path = "../whys.rs"]
mod whys;
mod words;

use expect::Expect;
use stillhand::link::mischief::Event;
use stillhand::shell::pad::script::Script;
use stillhand::soak::world::WorldOptions;
use stillhand_engine::errand::Errand;
use stillhand_engine::input::{Order, PadBus};
use stillhand_engine::operator::Operator;
use stillhand_engine::rig::Rig;
use stillhand_engine::time::Span;

pub use cover::Row;
pub use elsewhere::{Elsewhere, elsewhere};
pub use expect::KINDS;
pub use head::HEAD;
pub use play::play;
pub use read::{OWN, read};
pub use rows::all_rows;

/// A scenario that makes sense from its first line to its last.
pub struct Scenario {
    /// The file, as failures name it.
    pub name: String,
    /// Its lines, to be shown in failures.
    pub text: Vec<String>,
    pub rig: Rig,
    pub operator: Operator,
    /// The files that may be taken over.
    pub rigs: Vec<Rig>,
    pub operators: Vec<Operator>,
    /// The rig never knows where it is.
    pub unreferenced: bool,
    /// The cable is not plugged in when it begins, which is then at once.
    pub unplugged: bool,
    pub options: WorldOptions,
    /// Each at its place.
    pub pads: Vec<Pad>,
    pub mischief: Vec<(Span, Event)>,
    /// Everything else, in the order of its lines.
    pub steps: Vec<Step>,
    /// The time of the last line.
    pub length: Span,
}

/// A pad and what is done on it, if anything is.
pub struct Pad {
    pub bus: PadBus,
    pub drives: bool,
    pub script: Option<Script>,
}

/// One line that is neither a pad's nor the rig's.
pub struct Step {
    pub line: usize,
    pub at: Span,
    pub what: What,
}

pub enum What {
    /// The next turn of the loop comes so much after the one before.
    Late(Span),
    /// The cable is pulled (`false`) or plugged in.
    Cable(bool),
    /// The port takes nothing (`true`) or takes all again.
    Stuck(bool),
    /// Frames are left out for so long on purpose.
    Hush(Span),
    /// Another profile is handed to it.
    Use(usize),
    /// Another file of the rig is handed to it.
    UseRig(usize),
    /// Something is asked for without a pad.
    Order(Order),
    /// Motion is asked for leg by leg.
    Errand(Errand),
    /// The daemon is commanded to stop.
    Stop,
    /// The daemon is asked to end.
    End,
    Expect(Expect),
}
