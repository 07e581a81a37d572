//! Whose hands: how far and how often they move.

use super::random::Random;

/// Whose hands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hands {
    /// Never still: a little of everything, many times a second.
    Nervous,
    /// A stick pushed over and held, for seconds.
    Lazy,
    /// From one end of the stick to the other, and buttons without sense.
    Hostile,
}

impl Hands {
    /// All of them.
    pub const ALL: [Hands; 3] = [Hands::Nervous, Hands::Lazy, Hands::Hostile];

    /// Where they put a stick, -1 to 1.
    pub fn stick(self, random: &mut Random) -> f64 {
        let way = random.pick(&[-1.0, 1.0]);
        match self {
            Hands::Nervous => random.between(-1.2, 1.2).clamp(-1.0, 1.0),
            Hands::Lazy => way * random.between(0.3, 1.1).min(1.0),
            Hands::Hostile => way * random.pick(&[1.0, 1.0, 1.0, 0.4, 0.0]),
        }
    }

    /// How long until they do something else, in seconds.
    pub fn pause(self, random: &mut Random) -> f64 {
        match self {
            Hands::Nervous => random.scale(0.005, 0.3),
            Hands::Lazy => random.scale(0.2, 3.0),
            Hands::Hostile => random.scale(0.005, 1.5),
        }
    }
}
