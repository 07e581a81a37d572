//! The motors' current while nothing moves.
//!
//! ```text
//!            lower                   restore, or another lower              rise_ms later
//!   full ─────────────▶ lowered ─────────────────────────────────▶ rising ─────────────────▶ full
//! ```

/// Mechanics follow later than they are told to: nothing is lowered before all has been at rest for so long, ms.
const SETTLED_MS: u16 = 500;

/// Of each axis a bit.
#[derive(Debug, Clone)]
pub(crate) struct Standstill {
    /// Whose current can be lowered.
    can: u8,
    rise_ms: u16,
    low: u8,
    rising: u8,
    /// Until those that rise have risen.
    left_ms: u16,
    /// For how long nothing has moved.
    rested_ms: u16,
    /// What the daemon was told last.
    told: u8,
}

impl Standstill {
    pub(crate) fn new(can: u8, rise_ms: u16) -> Self {
        Self {
            can,
            rise_ms,
            low: 0,
            rising: 0,
            left_ms: 0,
            rested_ms: 0,
            told: 0,
        }
    }

    /// Lowers these, where it can and everything has settled, and no others.
    pub(crate) fn lower(&mut self, axes: u8) {
        let settled = self.rested_ms >= SETTLED_MS;
        let before = self.low;
        let axes = if settled { axes } else { 0 };
        self.low = axes & self.can;
        self.rising = (self.rising | before) & !self.low;
        if before & !self.low != 0 {
            self.left_ms = self.rise_ms;
        }
    }

    /// All motors get their full current.
    pub(crate) fn restore(&mut self) {
        self.lower(0);
    }

    /// One millisecond, in which everything was at rest or not.
    pub(crate) fn step(&mut self, at_rest: bool) {
        self.rested_ms = if at_rest {
            self.rested_ms.saturating_add(1)
        } else {
            0
        };
        self.left_ms = self.left_ms.saturating_sub(1);
        if self.left_ms == 0 {
            self.rising = 0;
        }
    }

    pub(crate) fn can(&self) -> u8 {
        self.can
    }

    /// Whose motor is to hold with its lowered current.
    pub(crate) fn low(&self) -> u8 {
        self.low
    }

    /// Whose motor has not its full current: nothing may move.
    pub(crate) fn lowered(&self) -> u8 {
        self.low | self.rising
    }

    /// The same to be told, if it is another than was told last.
    pub(crate) fn news(&self) -> bool {
        self.told != self.lowered()
    }

    pub(crate) fn tell(&mut self) -> u8 {
        self.told = self.lowered();
        self.told
    }
}
