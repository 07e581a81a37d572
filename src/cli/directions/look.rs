//! The test itself, axis by axis: a little move, and somebody who says which way the picture went.

use super::super::job::{Answers, Desk};
use super::super::slow::{self, Move};
use super::proposal::Looked;
use crate::profile::{RigFile, enable_name};
use crate::shell::probe::Seen;
use stillhand_engine::errand::{ErrandNews, Purpose, press_for};
use stillhand_engine::input::Button;
use stillhand_engine::rig::Picture;
use stillhand_engine::units::Unit;

/// A move long enough to be seen in the picture and short enough for any room, in deg or mm.
const WAY: [f64; 2] = [3.0, 20.0];
/// And slow enough to look twice, in deg/s or mm/s.
const SPEED: [f64; 2] = [2.0, 10.0];

#[derive(Clone, Copy, Debug, PartialEq)]
enum Phase {
    /// The axis under test is to be moved.
    Begins,
    Moves,
    Asks,
}

/// A test under way.
pub(in super::super) struct Looking {
    purpose: Purpose,
    pictures: Vec<Picture>,
    names: Vec<String>,
    /// The axes to test, and the place in this list of the one under test.
    axes: Vec<usize>,
    at: usize,
    phase: Phase,
    /// The way of the last move.
    plus: bool,
    news: Option<ErrandNews>,
    /// What was seen so far, by the places of the axes.
    pub(in super::super) looked: Vec<(usize, Looked)>,
}

impl Looking {
    pub(in super::super) fn new(purpose: Purpose, file: &RigFile, axes: Vec<usize>) -> Looking {
        Looking {
            purpose,
            pictures: file.pictures.clone(),
            names: file.rig.axes.iter().map(|axis| axis.name.clone()).collect(),
            axes,
            at: 0,
            phase: Phase::Begins,
            plus: true,
            news: None,
            looked: Vec::new(),
        }
    }

    /// Something became of the move; whether that is told in the usual words.
    pub(in super::super) fn news(&mut self, news: ErrandNews) -> bool {
        match news {
            ErrandNews::Leg(_) => false,
            ErrandNews::Offered { .. } | ErrandNews::Begun => true,
            ErrandNews::Done => {
                self.news = Some(news);
                false
            }
            ErrandNews::Ended(_) | ErrandNews::Refused(_) => {
                self.news = Some(news);
                true
            }
        }
    }

    /// Looks; whether every axis was tested. The rig has to be one that may move.
    ///
    /// # Errors
    /// In words, why it can't go on.
    pub(in super::super) fn look(
        &mut self,
        desk: &mut Desk<'_>,
        answers: &Answers,
    ) -> Result<bool, String> {
        if self.at == self.axes.len() {
            return Ok(true);
        }
        match self.phase {
            Phase::Begins if desk.free() => self.moves(desk)?,
            Phase::Begins => {}
            Phase::Moves => match self.news.take() {
                None => {}
                Some(ErrandNews::Done) => {
                    desk.warn(self.question());
                    desk.offering.ask(true);
                    self.phase = Phase::Asks;
                }
                // Let go too early, or pushed a stick: once more.
                Some(ErrandNews::Ended(_)) => self.phase = Phase::Begins,
                Some(_) => {
                    return Err("the axis could not be moved: see what was told above".to_owned());
                }
            },
            Phase::Asks => {
                let answer = match self.tapped(desk) {
                    Some(word) => Some(word.to_owned()),
                    None => answers.next()?,
                };
                if let Some(answer) = answer {
                    self.answered(desk, &answer);
                    desk.offering.ask(self.phase == Phase::Asks);
                }
            }
        }
        Ok(self.at == self.axes.len())
    }

    /// How far it is, in a line.
    pub(in super::super) fn progress(&self) -> Option<String> {
        let axis = &self.names[*self.axes.get(self.at)?];
        Some(format!(
            "axis {} of {}: {axis}",
            self.at + 1,
            self.axes.len()
        ))
    }

    /// Offers the move of the axis under test.
    fn moves(&mut self, desk: &mut Desk<'_>) -> Result<(), String> {
        let place = self.axes[self.at];
        let (axis, status) = (&desk.rig.axes[place], &desk.snapshot.axes[place]);
        let unit = usize::from(axis.unit == Unit::Mm);
        let speed = SPEED[unit].min(status.full_stick / 2.0);
        if speed <= 0.0 {
            return Err(format!(
                "{}: a full stick is 0 now; is the speed trigger pulled?",
                axis.name
            ));
        }
        self.plus = slow::room(axis, status).is_none_or(|[_, above]| above > 2.0 * WAY[unit]);
        let press = press_for(desk.operator).ok_or_else(|| slow::no_press(desk.operator))?;
        desk.warn(format!(
            "{} will move a little: watch the picture, and keep {} held until it stops",
            axis.name,
            enable_name(press)
        ));
        let wanted = Move {
            axis: place,
            plus: self.plus,
            speed,
            drives_s: WAY[unit] / speed,
        };
        slow::offer(desk, self.purpose, wanted)?;
        self.phase = Phase::Moves;
        Ok(())
    }

    /// What a move of the axis under test looks like: the words for plus and minus.
    fn words(&self) -> [&'static str; 2] {
        match self.pictures[self.axes[self.at]] {
            Picture::Pan => ["right", "left"],
            Picture::Tilt => ["up", "down"],
            Picture::Other => ["yes", "no"],
        }
    }

    /// What the d-pad says by these buttons: the words for plus and minus, then those for once more.
    fn buttons(&self) -> [[Button; 2]; 2] {
        let (across, along) = (
            [Button::DpadRight, Button::DpadLeft],
            [Button::DpadUp, Button::DpadDown],
        );
        match self.pictures[self.axes[self.at]] {
            Picture::Pan => [across, along],
            Picture::Tilt | Picture::Other => [along, across],
        }
    }

    /// The answer of a pad that holds something, if there is one. Of several the first counts.
    fn tapped(&self, desk: &mut Desk<'_>) -> Option<&'static str> {
        let groups = &desk.snapshot.status.groups;
        let button = desk.seen.iter().find_map(|seen| match seen {
            Seen::Tapped(pad, button) if groups.iter().any(|group| group.pad == Some(*pad)) => {
                Some(*button)
            }
            Seen::Tapped(..) | Seen::Turn(_) | Seen::Told(..) => None,
        })?;
        let [says, again] = self.buttons();
        let said = says.into_iter().zip(self.words());
        let said = said.chain(again.map(|button| (button, "again")));
        let (_, word) = said.into_iter().find(|(own, _)| *own == button)?;
        let name = &self.names[self.axes[self.at]];
        desk.tell(format!("{name}: {word}, by the d-pad"));
        Some(word)
    }

    fn question(&self) -> String {
        let place = self.axes[self.at];
        let (name, [plus, minus]) = (&self.names[place], self.words());
        let asks = match self.pictures[place] {
            Picture::Pan | Picture::Tilt => "which way did the picture look?",
            Picture::Other if self.plus => "was that the way you call plus?",
            Picture::Other => "was that the way you call minus?",
        };
        let [[yes, no], [more, _]] = self.buttons().map(|pair| pair.map(Button::name));
        let other = match more {
            "dpad-up" => "up or down",
            _ => "left or right",
        };
        format!(
            "{name}: {asks} {plus}, {minus}, again, skip; or tap {yes} for {plus}, {no} for {minus}, {other} for again"
        )
    }

    fn answered(&mut self, desk: &mut Desk<'_>, answer: &str) {
        let place = self.axes[self.at];
        let [plus, minus] = self.words();
        let turned = match self.pictures[place] {
            // A yes is a yes whichever way it went.
            Picture::Other => false,
            Picture::Pan | Picture::Tilt => !self.plus,
        };
        let looked = match answer {
            "again" => {
                self.phase = Phase::Begins;
                return;
            }
            "skip" => Looked::Skipped,
            _ if answer == plus => Looked::of(!turned),
            _ if answer == minus => Looked::of(turned),
            _ => {
                desk.warn(format!("\"{answer}\" is no answer. {}", self.question()));
                return;
            }
        };
        self.looked.push((place, looked));
        self.at += 1;
        self.phase = Phase::Begins;
    }
}
