//! Motion.
