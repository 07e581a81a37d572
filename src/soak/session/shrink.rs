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
    shrink_by(scene, breach, replay_to)
}

/// The same with another way to play.
fn shrink_by(scene: &Scene, breach: &Breach, play: impl Fn(&Scene) -> Replayed) -> Shrunk {
    let mut work = Work {
        best: Shrunk {
            scene: scene.clone(),
            breach: breach.clone(),
            tried: 0,
        },
        left: MOST_TURNS,
        play,
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

struct Work<P> {
    best: Shrunk,
    /// Turns that may still be played.
    left: u64,
    play: P,
}

impl<P: Fn(&Scene) -> Replayed> Work<P> {
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
        let Replayed { result, played } = (self.play)(&scene);
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
        for share in [2, 4, 8, 32, u32::MAX] {
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::soak::session::play::record;
    use crate::soak::session::seen::Seen;
    use stillhand_engine::input::{Button, Control, PadId};
    use stillhand_engine::time::{Span, Time};

    fn breach() -> Breach {
        Breach {
            law: "made up".to_owned(),
            at: Time(0),
            words: String::new(),
        }
    }

    /// Breaks as soon as north is pressed ten turns or more after a stick was pushed right by half.
    fn made_up(scene: &Scene) -> Replayed {
        let (mut pushed, mut turns) = (None, 0);
        for (place, act) in scene.acts.iter().enumerate() {
            match act {
                Act::Turns(more) => turns += more,
                Act::Late(_) => turns += 1,
                Act::Pad(_, PadEvent::Moved(Control::Rx, value)) if *value >= 0.5 => {
                    pushed.get_or_insert(turns);
                }
                Act::Pad(_, PadEvent::Pressed(Button::North, true))
                    if pushed.is_some_and(|at| turns >= at + 10) =>
                {
                    let mut played = scene.clone();
                    played.acts.truncate(place + 1);
                    return Replayed {
                        result: Err(breach()),
                        played,
                    };
                }
                _ => {}
            }
        }
        Replayed {
            result: Ok(Seen::default()),
            played: scene.clone(),
        }
    }

    fn scene() -> Scene {
        let mut scene = record(5, 20.0).scene;
        let pad = PadId(0);
        scene.acts.extend([
            Act::Pad(pad, PadEvent::Moved(Control::Rx, 0.734)),
            Act::Turns(13),
            Act::Late(Span::from_millis(60)),
            Act::Pad(pad, PadEvent::Pressed(Button::North, true)),
            Act::Turns(5),
        ]);
        scene
    }

    #[test]
    fn what_a_breach_does_not_need_is_left_out() {
        let scene = scene();
        assert!(scene.acts.len() > 50, "little to leave out");
        let shrunk = shrink_by(&scene, &breach(), made_up);
        let acts = shrunk.scene.acts;
        let [
            Act::Pad(_, PadEvent::Moved(Control::Rx, value)),
            Act::Turns(10),
            Act::Pad(_, PadEvent::Pressed(Button::North, true)),
        ] = acts[..]
        else {
            panic!("not the least: {acts:?}");
        };
        assert!(
            value >= 0.5 && (value * 10.0).fract() == 0.0,
            "{value} is no tenth"
        );
        assert!(shrunk.tried < 500, "{} tries", shrunk.tried);
    }

    #[test]
    fn what_breaks_nothing_smaller_stays_as_it_is() {
        let scene = scene();
        let never = |scene: &Scene| Replayed {
            result: Ok(Seen::default()),
            played: scene.clone(),
        };
        let shrunk = shrink_by(&scene, &breach(), never);
        assert_eq!(shrunk.scene.acts, scene.acts);
        assert_eq!(shrunk.breach, breach());
    }
}
