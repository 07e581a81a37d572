//! Rows no story can expect: why not, and which test knows them instead.

use super::cover::Row;

/// Rows no story can expect.
pub struct Elsewhere {
    /// The row, or how several begin.
    pub row: Row,
    /// Why not.
    pub reason: &'static str,
    /// The file and the test that know better.
    pub test: (&'static str, &'static str),
}

/// All of them.
pub fn elsewhere() -> Vec<Elsewhere> {
    Vec::new()
}
