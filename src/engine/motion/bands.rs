//! The speeds at which an axis sings, and how it keeps out of them.
//!
//! ```text
//!   speed aimed at
//!        │            ╱
//!   high ┤      ◀────╱   down at the middle
//!        │      │   ▲
//!   low  ┤    ╱─┴───┘    up at the upper edge
//!        │  ╱
//!        └─────────────▶ speed asked for
//! ```

use crate::units::Speed;

/// Most bands an axis can have: with more there is hardly a speed left to drive at.
pub const MAX_BANDS: usize = 16;

/// A band of speeds, in units/s, of either sign. Its edges are outside of it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Band {
    /// The lower edge, above 0.
    pub low: Speed,
    /// The upper edge.
    pub high: Speed,
}

impl Band {
    /// Whether it has `speed` inside.
    fn has(self, speed: Speed) -> bool {
        self.low < speed && speed < self.high
    }

    /// What is asked for has to fall below this before an axis that was above the band goes under it.
    ///
    /// Half the band, because hands tremble: about the upper edge alone a thumb would send the axis through
    /// the band again and again, each time to be heard. So the axis is never faster than asked for by more
    /// than half the band.
    fn down_below(self) -> Speed {
        Speed((self.low.0 + self.high.0) / 2.0)
    }
}

/// Up to [`MAX_BANDS`] bands, the slowest first, none touching rest or another.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Bands {
    list: [Band; MAX_BANDS],
    count: u8,
}

impl Default for Bands {
    fn default() -> Bands {
        Bands::NONE
    }
}

/// How an axis stands when a speed is asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// The speed asked for, in units/s.
    pub speed: f64,
    /// The speed it aimed at in the tick before.
    pub before: f64,
    /// Its speed now.
    pub now: f64,
    /// It may not be aimed higher than this.
    pub most: f64,
}

impl Bands {
    /// Nothing to avoid.
    pub const NONE: Bands = Bands {
        list: [Band {
            low: Speed(0.0),
            high: Speed(0.0),
        }; MAX_BANDS],
        count: 0,
    };

    /// Takes up to [`MAX_BANDS`] bands in rising order; `None` for more, and for bands that touch 0 or each
    /// other, have no width or no end.
    pub fn new(bands: &[Band]) -> Option<Bands> {
        let edges = || bands.iter().flat_map(|band| [band.low.0, band.high.0]);
        let apart = core::iter::once(0.0).chain(edges()).zip(edges());
        let rising = apart.clone().all(|(before, after)| before < after);
        if bands.len() > MAX_BANDS || !rising || !edges().all(f64::is_finite) {
            return None;
        }
        let mut all = Bands::NONE;
        all.list[..bands.len()].copy_from_slice(bands);
        all.count = bands.len() as u8;
        Some(all)
    }

    /// Whether they are as [`Bands::new`] takes them.
    pub fn is_sound(&self) -> bool {
        usize::from(self.count) <= MAX_BANDS && Bands::new(self) == Some(*self)
    }

    /// The band that has `speed` inside.
    pub fn around(&self, speed: Speed) -> Option<Band> {
        self.iter().copied().find(|band| band.has(speed))
    }

    /// What a ceiling of `speed` comes to: one inside a band counts as its lower edge.
    pub fn under(&self, speed: Speed) -> Speed {
        self.around(speed).map_or(speed, |band| band.low)
    }

    /// The highest speed up to which there is no band, if there is any.
    pub fn first_edge(&self) -> Option<Speed> {
        self.first().map(|band| band.low)
    }

    /// The speed to aim at, and the band that makes it another one than asked for.
    ///
    /// Inside a band it is the lower edge; the upper one as long as the axis was aimed there or higher and no
    /// less than the middle is asked for. An axis that gives a crossing up goes back to the lower edge before
    /// it tries again: hands that change their mind must not keep it inside.
    pub fn aim(&self, asked: &Asked) -> (f64, Option<Band>) {
        let sign = sign_of(asked.speed);
        let mut speed = asked.speed.abs();
        let mut why = self.around(Speed(speed));
        if let Some(band) = why {
            let above = asked.before * sign >= band.high.0
                && speed >= band.down_below().0
                && band.high.0 <= asked.most;
            speed = if above { band.high.0 } else { band.low.0 };
        }
        let way = sign_of(asked.now);
        if let Some(band) = self.around(Speed(asked.now.abs()))
            && asked.before * way <= band.low.0
            && speed * sign * way > band.low.0
        {
            (speed, why) = (band.low.0, Some(band));
        }
        (speed * sign, why)
    }
}

impl core::ops::Deref for Bands {
    type Target = [Band];
    fn deref(&self) -> &[Band] {
        self.list.get(..usize::from(self.count)).unwrap_or(&[])
    }
}

fn sign_of(x: f64) -> f64 {
    if x < 0.0 { -1.0 } else { 1.0 }
}

#[cfg(test)]
mod tests;
