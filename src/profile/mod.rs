//! From the text of a file to the valid types of the engine.
//!
//! ```text
//! text ──▶ document ──▶ rawrig, rawhand ──▶ rigfile, operatorfile ──▶ engine::Rig, engine::Operator
//!          TOML with    each value read     values held against       names and units held
//!          spans        by itself           each other                against the rigs (resolve)
//! ```
//!
//! Parts of an operator profile that have rules of their own have a file of their own: controls, curves,
//! sticks, groups, buttons and presses; of a rig file: the drive. A quiet file is read in one, but for its
//! bands (avoid). A trim file, of a pad, has its types here too (trim): no engine needs them.
//!
//! No file is opened here: text goes in, types or [`Problems`] come out. Every step collects all
//! the problems it meets instead of ending at the first, and a file is taken whole or not at all.
//! The TOML tree is walked by hand rather than through serde's derived types, because those end
//! at the first error.
//!
//! A syntax error that only concerns one value (a missing quote, a key given twice) lets the rest
//! of the file be checked as well; one that may have swallowed lines (an open bracket) does not,
//! since what follows would be blamed for it.

mod avoid;
pub mod builtin;
mod buttons;
mod controls;
mod curves;
pub mod defaults;
mod document;
mod drive;
pub mod edit;
mod field;
mod groups;
mod near;
mod operatorfile;
mod press;
mod problem;
mod quantity;
mod quietfile;
mod rawhand;
mod rawrig;
mod resolve;
mod rigfile;
mod schema;
mod sticks;
mod table;
pub mod trim;
mod trimfile;

pub use buttons::ACTIONS;
pub use controls::{controls_of, enable_name, source_text};
pub use document::Kind;
pub use drive::Drive;
pub(crate) use near::nearest;
pub use operatorfile::{HandFile, OperatorFile, load_operator};
pub use press::press_text;
pub(crate) use problem::short;
pub use problem::{Place, Problem, Problems, Row};
pub use quantity::{Dimension, Quantity};
pub use quietfile::{QuietAxis, QuietFile, load_quiet};
pub use rawhand::shakes_word;
pub use rigfile::{PortSpec, RigFile, load_rig};
pub use schema::schema;
pub use trimfile::{TrimFile, load_trim};

/// The text of one file and what to call it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Source {
    /// The path as the user gave it, or what to call a text that has none.
    pub name: String,
    /// All of it.
    pub text: String,
}

impl Source {
    /// A text under a name.
    pub fn new(name: impl Into<String>, text: impl Into<String>) -> Source {
        Source {
            name: name.into(),
            text: text.into(),
        }
    }
}
