//! A reference set by hand: what an axis's position is where it stands now.

/// A reference that is asked for.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Reference {
    /// The rig's place.
    pub rig: u8,
    /// The axis's place in the rig file.
    pub axis: u8,
    /// Where it stands, in the picture's sense and the axis's unit.
    pub at: f64,
    /// It is meant although the position is known already.
    pub again: bool,
}

/// The last reference that was asked for, and what became of it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct ReferenceStatus {
    /// Which it is: one more for each, 0 before the first.
    pub number: u32,
    /// What was asked for.
    pub asked: Reference,
    /// What became of it.
    pub stands: Stands,
}

impl ReferenceStatus {
    /// Before any was asked for.
    pub const NONE: ReferenceStatus = ReferenceStatus {
        number: 0,
        asked: Reference {
            rig: 0,
            axis: 0,
            at: 0.0,
            again: false,
        },
        stands: Stands::Never,
    };

    /// Whether the rig is yet to answer: nothing may move until then.
    pub fn is_pending(&self) -> bool {
        self.stands == Stands::Asked
    }
}

/// What became of a reference.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Stands {
    /// None was asked for.
    #[default]
    Never,
    /// The rig is asked to take it.
    Asked,
    /// The rig stands there, and was met anew.
    Taken,
    /// It changed nothing.
    Refused(NotReferenced),
}

/// Why a reference was not taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum NotReferenced {
    /// Another one is not answered yet.
    Busy,
    /// The rig can't be asked: the link is not ready, or the daemon ends.
    NoLink,
    /// The camera is rolling.
    Rolling,
    /// Something moves, or is about to.
    Moving,
    /// A stick is held over.
    Stick,
    /// The position is known already, and it was not asked for again.
    Already,
    /// Outside of the axis's travel, or further than a rig counts.
    Outside,
    /// The rig does not know the message, or does not hear.
    NoAnswer,
    /// The link was lost before the rig answered.
    LinkLost,
    /// The rig was met anew and does not stand there.
    NotTaken,
}
