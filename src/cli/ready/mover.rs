//! What the steps that move something share: a move is offered once the rig may move, at reduced speed and in the
//! fastest gear, and something becomes of it.

use super::super::job::Desk;
use super::super::slow::{self, Move};
use super::super::words;
use stillhand_engine::errand::{ErrandEnd, ErrandNews, Purpose, Refusal};
use stillhand_engine::input::Order;
use stillhand_engine::operate::modes::Mode;
use stillhand_engine::output::{AxisStatus, Place, State};
use stillhand_engine::rig::Axis;
use stillhand_engine::time::Time;
use stillhand_engine::units::Unit;

/// Share of what a full stick may do while reduced: the rest is for a ceiling that sinks a little meanwhile.
const SHARE: f64 = 0.8;
/// A slower move shows nothing, in deg/s and mm/s.
const SLOWEST: [f64; 2] = [0.3, 2.0];

/// A move that is not meant for an end stays so far from it, in s.
const NEAR_END_S: f64 = 1.0;

/// The move of a step.
#[derive(Debug, Default)]
pub(super) struct Mover {
    news: Option<ErrandNews>,
    /// Since when it waits for a rig that may move.
    waits: Option<Time>,
}

/// What became of a move.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Became {
    /// It went all of its way.
    Done,
    /// It landed on an end of the travel.
    AtEnd,
    /// Its press was let go.
    LetGo,
    /// Motion was withheld; the state says why.
    Withheld,
    /// It can't be, and why.
    Refused(String),
}

impl Mover {
    /// Something became of the move; whether that is told in the usual words.
    pub(super) fn news(&mut self, news: ErrandNews) -> bool {
        match news {
            ErrandNews::Leg(_) => false,
            ErrandNews::Offered { .. } | ErrandNews::Begun => true,
            ErrandNews::Done | ErrandNews::Ended(_) | ErrandNews::Refused(_) => {
                self.news = Some(news);
                !matches!(
                    news,
                    ErrandNews::Done | ErrandNews::Ended(ErrandEnd::Travel | ErrandEnd::Withheld)
                )
            }
        }
    }

    /// What became of the move, once.
    pub(super) fn over(&mut self) -> Option<Became> {
        Some(match self.news.take()? {
            ErrandNews::Done => Became::Done,
            ErrandNews::Ended(ErrandEnd::Travel) => Became::AtEnd,
            ErrandNews::Ended(ErrandEnd::LetGo) => Became::LetGo,
            ErrandNews::Ended(ErrandEnd::Withheld | ErrandEnd::Stick) => Became::Withheld,
            ErrandNews::Ended(ErrandEnd::Rolling) | ErrandNews::Refused(Refusal::Rolling) => {
                Became::Refused("the camera is rolling".to_owned())
            }
            ErrandNews::Ended(ErrandEnd::Ceiling | ErrandEnd::Band) => {
                Became::Refused("a ceiling is lower than the move".to_owned())
            }
            ErrandNews::Ended(ErrandEnd::CalledOff) => {
                Became::Refused("it was called off".to_owned())
            }
            ErrandNews::Refused(Refusal::Outside) => {
                Became::Refused("it is outside its travel: drive it inside by the stick".to_owned())
            }
            ErrandNews::Refused(Refusal::Groups) => {
                Became::Refused("its axes are held by different pads".to_owned())
            }
            ErrandNews::Refused(_)
            | ErrandNews::Offered { .. }
            | ErrandNews::Begun
            | ErrandNews::Leg(_) => {
                Became::Refused("the move was refused: see what was told".to_owned())
            }
        })
    }

    /// Whether the rig may move now: reduced, in the fastest gears, and not stopped. A stop waits for its release
    /// without an end, anything else for 30 s.
    ///
    /// # Errors
    /// In words, that it may not.
    pub(super) fn may(&mut self, desk: &mut Desk<'_>) -> Result<bool, String> {
        let status = &desk.snapshot.status;
        if matches!(status.state, State::Stopped(_)) {
            self.waits = None;
            return Ok(false);
        }
        let began = *self.waits.get_or_insert(desk.now);
        if !desk.met(began)? {
            return Ok(false);
        }
        let reduced = status.modes.reduced.on();
        if !reduced {
            desk.offering.order(Order::Mode(Mode::Reduced, true));
        }
        let mut shifted = false;
        for group in 0..desk.operator.groups.len() as u8 {
            let gear = desk.operator.gears_of(group) - 1;
            if status.groups[usize::from(group)].gear != gear {
                shifted = true;
                desk.offering.order(Order::Gear { group, gear });
            }
        }
        let may = reduced && !shifted && desk.free();
        if may {
            self.waits = None;
        }
        Ok(may)
    }

    /// Offers a move.
    ///
    /// # Errors
    /// In words, why it can't be.
    pub(super) fn offer(&mut self, desk: &mut Desk<'_>, wanted: Move) -> Result<(), String> {
        self.news = None;
        slow::offer(desk, Purpose::Check, wanted)
    }
}

/// The fastest an axis is checked at.
///
/// # Errors
/// In words, why there is no such speed.
pub(super) fn fastest(axis: &Axis, status: &AxisStatus) -> Result<f64, String> {
    let most = SHARE * status.full_stick;
    match most < SLOWEST[usize::from(axis.unit == Unit::Mm)] {
        true => Err("a full stick is next to nothing now; is the speed trigger pulled?".to_owned()),
        false => Ok(most),
    }
}

/// The speed at which an axis goes for so many seconds before its end is near, [`fastest`] at the most.
///
/// # Errors
/// In words, why there is no such speed.
pub(super) fn speed(
    axis: &Axis,
    status: &AxisStatus,
    plus: bool,
    least_s: f64,
) -> Result<f64, String> {
    let room = slow::room(axis, status).map_or(f64::INFINITY, |room| room[usize::from(plus)]);
    let speed = fastest(axis, status)?.min(room / (least_s + NEAR_END_S));
    match speed < SLOWEST[usize::from(axis.unit == Unit::Mm)] {
        true => Err("it stands too near its end for that: drive it towards the middle".to_owned()),
        false => Ok(speed),
    }
}

/// For how long an axis may go at a speed before its end is near, in s.
pub(super) fn lasts(axis: &Axis, status: &AxisStatus, plus: bool, speed: f64, most_s: f64) -> f64 {
    let room = slow::room(axis, status).map_or(f64::INFINITY, |room| room[usize::from(plus)]);
    (room / speed - NEAR_END_S).clamp(0.1, most_s)
}

/// Why an axis is not moved, whatever is asked of it.
pub(super) fn unmoved(desk: &Desk<'_>, axis: usize) -> Option<(String, String)> {
    let own = &desk.rig.axes[axis];
    if !slow::drives(desk.operator, axis) {
        let says = "the profile does not drive it".to_owned();
        return Some((says, slow::not_driven(desk.operator, own)));
    }
    if desk.snapshot.axes[axis].place == Place::Unreferenced {
        let says = "it has no reference, so nothing guards its ends: it is not driven".to_owned();
        return Some((
            says,
            "let the rig find its reference, then check again".to_owned(),
        ));
    }
    None
}

/// Why motion is withheld, as a reason.
pub(super) fn withheld(state: State) -> String {
    match words::why(state) {
        "" => "motion was withheld".to_owned(),
        why => format!("motion was withheld: {why}"),
    }
}

/// The way by its sign.
pub(super) const fn way(plus: bool) -> &'static str {
    if plus { "plus" } else { "minus" }
}
