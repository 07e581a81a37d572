//! The exact counts of a run over a hostile line.

use super::Item;
use super::damage::Kind;
use std::fmt;

#[derive(Default)]
pub struct Tally {
    damaged: [u64; Kind::ALL.len()],
    /// Frames that were due and began a run.
    pub clean: u64,
    /// Those of them that were acted upon.
    pub taken: u64,
    /// Frames that were due behind bytes that no 0x00 had ended.
    pub behind: u64,
    /// Damaged runs that said what they had said before: drawn again.
    pub harmless: u64,
    /// Damaged runs with a CRC that agreed by chance: drawn again.
    pub collisions: u64,
    /// Sessions begun on a quiet line.
    pub sessions: u64,
}

impl Tally {
    pub fn sent(&mut self, item: &Item) {
        match (item.kind, item.behind) {
            (Some(kind), _) => self.damaged[kind as usize] += 1,
            (None, true) => self.behind += 1,
            (None, false) => self.clean += 1,
        }
    }

    pub fn all_damaged(&self) -> u64 {
        self.damaged.iter().sum()
    }

    /// The criterion. Damage that was acted upon has been reported where it happened.
    pub fn judge(&self) {
        assert_eq!(
            self.taken, self.clean,
            "a good frame at the start of a run is taken"
        );
        assert!(self.clean > self.behind, "the damage leaves too few alone");
        for kind in Kind::ALL {
            let share = self.damaged[kind as usize] as f64 / self.all_damaged() as f64;
            assert!(share > 0.05, "{kind:?}: {share}");
        }
        // Of n damaged frames, n / 2^32 are expected.
        let expected = self.all_damaged() as f64 / 2f64.powi(32);
        assert!(self.collisions as f64 <= 2.0 + 4.0 * expected, "{self}");
    }
}

impl fmt::Display for Tally {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let damaged = self.all_damaged();
        writeln!(f, "{damaged} damaged, 0 acted upon:")?;
        for kind in Kind::ALL {
            let name = format!("{kind:?}");
            writeln!(f, "  {name:<16}{:>9}", self.damaged[kind as usize])?;
        }
        let (taken, clean) = (self.taken, self.clean);
        let share = 100.0 * taken as f64 / clean.max(1) as f64;
        writeln!(
            f,
            "{clean} good at the start of a run, {taken} taken: {share:.4} %"
        )?;
        let behind = self.behind;
        writeln!(
            f,
            "{behind} good behind bytes without an end, 0 taken, as COBS has it"
        )?;
        let (harmless, collisions) = (self.harmless, self.collisions);
        writeln!(
            f,
            "drawn again: {harmless} harmless, {collisions} collisions of the CRC"
        )?;
        write!(f, "{} sessions", self.sessions)
    }
}
