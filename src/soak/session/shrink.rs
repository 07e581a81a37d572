//! A scene that breaks a law, made smaller for as long as it breaks the same law.

use super::act::{Act, Scene};
use super::stage::{Breach, Replayed, replay_to};
use stillhand_engine::input::PadEvent;

/// Turns that are played at most while one breach is shrunk: under a minute of a core.
const MOST_TURNS: u64 = 8_000_000;

/// What became of it.
#[derive(Debug)]
pub struct Shrunk {
    /// The smallest scene found.
    pub scene: Scene,
    /// What it breaks.
    pub breach: Breach,
    /// How many smaller ones were tried.
    pub tried: u32,
}

/// Makes a scene that ends in `breach` smaller. The same scene gives the same result on every machine:
/// what is spent is counted in turns.
pub fn shrink(scene: &Scene, breach: &Breach) -> Shrunk {
    let mut work = Work {
        best: Shrunk {
            scene: scene.clone(),
            breach: breach.clone(),
            tried: 0,
        },
        left: MOST_TURNS,
    };
    loop {
        let before = work.size();
        work.drop_chunks();
        work.calm();
        work.shorten();
        work.round();
        if work.size() == before || work.left == 0 {
            return work.best;
        }
    }
}

struct Work {
    best: Shrunk,
    /// Turns that may still be played.
    left: u64,
}

impl Work {
    fn size(&self) -> (usize, u64) {
        let scene = &self.best.scene;
        (scene.acts.len(), scene.turns())
    }

    fn len(&self) -> usize {
        self.best.scene.acts.len()
    }

    /// Keeps these acts if they break the same law.
    fn attempt(&mut self, acts: Vec<Act>) -> bool {
        let scene = Scene {
            acts: merged(acts),
            ..self.best.scene.clone()
        };
        let cost = scene.turns();
        if cost > self.left {
            self.left = 0;
            return false;
        }
        self.best.tried += 1;
        let Replayed { result, played } = replay_to(&scene);
        self.left -= played.turns();
        match result {
            Err(breach) if breach.law == self.best.breach.law => {
                (self.best.scene, self.best.breach) = (played, breach);
                true
            }
            Ok(_) | Err(_) => false,
        }
    }

    /// Leaves out halves, quarters and so on, down to single acts.
    fn drop_chunks(&mut self) {
        let mut chunk = self.len().div_ceil(2);
        loop {
            // From the end, so that what an act needs goes after it.
            let mut end = self.len();
            while end > 0 && self.left > 0 {
                let start = end.saturating_sub(chunk);
                let mut acts = self.best.scene.acts.clone();
                acts.drain(start..end);
                self.attempt(acts);
                end = start.min(self.len());
            }
            if chunk <= 1 || self.left == 0 {
                return;
            }
            chunk = chunk.div_ceil(2);
        }
    }

    /// Lets late turns come in time.
    fn calm(&mut self) {
        self.each(|act| matches!(act, Act::Late(_)).then_some(Act::Turns(1)));
    }

    /// Lets less time pass.
    fn shorten(&mut self) {
        for share in [8, 4, 2] {
            self.each(|act| match act {
                Act::Turns(turns) if *turns > 1 => Some(Act::Turns(turns - turns.div_ceil(share))),
                _ => None,
            });
        }
    }

    /// Lets sticks stand at tenths.
    fn round(&mut self) {
        self.each(|act| match act {
            Act::Pad(pad, PadEvent::Moved(control, value)) => {
                let tenth = (value * 10.0).round() / 10.0;
                let event = PadEvent::Moved(*control, tenth);
                (tenth != *value).then_some(Act::Pad(*pad, event))
            }
            _ => None,
        });
    }

    /// Tries another act in the place of each for which there is one.
    fn each(&mut self, other: impl Fn(&Act) -> Option<Act>) {
        let mut place = self.len();
        while place > 0 && self.left > 0 {
            place = (place - 1).min(self.len().saturating_sub(1));
            let Some(act) = self.best.scene.acts.get(place).and_then(&other) else {
                continue;
            };
            let mut acts = self.best.scene.acts.clone();
            acts[place] = act;
            self.attempt(acts);
        }
    }
}

/// Turns in time that follow each other become one act.
fn merged(acts: Vec<Act>) -> Vec<Act> {
    let mut merged: Vec<Act> = Vec::with_capacity(acts.len());
    for act in acts {
        match (merged.last_mut(), act) {
            (Some(Act::Turns(sum)), Act::Turns(turns)) => *sum = sum.saturating_add(turns),
            (_, act) => merged.push(act),
        }
    }
    merged
}
