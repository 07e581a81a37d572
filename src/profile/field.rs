//! A value of a file with its place, or the reason why there is none.

use std::ops::Range;

/// What a key of a file holds.
///
/// `Bad` is kept apart from `Absent`: a value that was given and refused has had its message, and
/// must neither be reported as missing nor replaced by a default.
#[derive(Clone, Debug)]
pub(super) enum Field<T> {
    Absent,
    Bad,
    Got(At<T>),
}

/// A value and where it stands.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct At<T> {
    pub(super) value: T,
    pub(super) span: Range<usize>,
}

impl<T> Field<T> {
    /// The value and its place, if a good one was given.
    pub(super) fn got(&self) -> Option<&At<T>> {
        match self {
            Field::Got(at) => Some(at),
            Field::Absent | Field::Bad => None,
        }
    }

    /// Where the value stands, if a good one was given.
    pub(super) fn span(&self) -> Option<Range<usize>> {
        self.got().map(|at| at.span.clone())
    }
}

impl<T: Clone> Field<T> {
    /// The value, or the default if the key is absent; `None` if the value was refused.
    pub(super) fn or(&self, default: T) -> Option<T> {
        match self {
            Field::Absent => Some(default),
            Field::Bad => None,
            Field::Got(at) => Some(at.value.clone()),
        }
    }

    /// The value, if a good one was given.
    pub(super) fn value(&self) -> Option<T> {
        self.got().map(|at| at.value.clone())
    }
}
