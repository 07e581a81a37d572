//! What may be asked at the control socket, and what comes of it.

use crate::shell::pages::Page;
use serde::{Deserialize, Serialize};
use stillhand_engine::input::Order;
use stillhand_engine::operate::modes::{Mode, Switch};
use stillhand_engine::output::State;

/// The version of what is asked and answered. A field more is not a new one.
pub const VERSION: u32 = 1;

/// One line of a client.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "do", rename_all = "lowercase", deny_unknown_fields)]
pub enum Request {
    /// How things stand.
    Status {},
    /// How things stand, again and again.
    Watch {},
    /// Stop the rig.
    Stop {},
    /// Every motion under the quiet ceilings.
    Quiet {
        /// On or off.
        on: bool,
    },
    /// No motion at all.
    Still {
        /// On or off.
        on: bool,
    },
    /// Slow enough for someone to be near.
    Reduced {
        /// On or off.
        on: bool,
    },
    /// The camera is rolling.
    Rolling {
        /// On or off.
        on: bool,
    },
    /// Select a gear.
    Gear {
        /// Which, 1 the slowest.
        to: u8,
        /// Of which group of axes; of all if not given.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        group: Option<String>,
    },
    /// Hand over to another operator, at rest and centred.
    Use {
        /// Its name; who is at hand if not given.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        operator: Option<String>,
    },
    /// An axis stands at this position.
    Reference {
        /// Its name.
        axis: String,
        /// The position, with its unit.
        here: String,
        /// It is meant although the position is known already.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        again: bool,
    },
    /// Where an axis may go: what the file says, or is to say.
    Travel {
        /// Its name.
        axis: String,
        /// The low end, `here` or with its unit; as it is if not given.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        low: Option<String>,
        /// The high end.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        high: Option<String>,
    },
}

/// One line to a client.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Answer {
    /// [`VERSION`].
    pub v: u32,
    /// Whether it is as was asked, or will be as soon as what `says` names has happened.
    pub ok: bool,
    /// In words.
    pub says: String,
    /// How things stand, if that was asked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub status: Option<serde_json::Value>,
}

impl Answer {
    /// It is so, or will be.
    pub fn yes(says: impl Into<String>) -> Answer {
        Answer {
            v: VERSION,
            ok: true,
            says: says.into(),
            status: None,
        }
    }

    /// It is not so.
    pub fn no(says: impl Into<String>) -> Answer {
        Answer {
            ok: false,
            ..Answer::yes(says)
        }
    }

    /// How things stand.
    pub fn page(page: &Page) -> Answer {
        Answer {
            status: Some(page.json.clone()),
            ..Answer::yes("")
        }
    }
}

impl Request {
    /// One line of a client.
    ///
    /// # Errors
    /// What is wrong with it, in words.
    pub fn read(line: &[u8]) -> Result<Request, String> {
        serde_json::from_slice(line).map_err(|error| {
            format!("not understood: {error}. Ask like {{\"do\":\"status\"}}, one object a line")
        })
    }

    fn mode(&self) -> Option<(Mode, bool)> {
        match self {
            Request::Quiet { on } => Some((Mode::Quiet, *on)),
            Request::Still { on } => Some((Mode::Still, *on)),
            Request::Reduced { on } => Some((Mode::Reduced, *on)),
            Request::Rolling { on } => Some((Mode::Rolling, *on)),
            Request::Status {}
            | Request::Watch {}
            | Request::Stop {}
            | Request::Gear { .. }
            | Request::Use { .. }
            | Request::Reference { .. }
            | Request::Travel { .. } => None,
        }
    }

    /// The groups whose gear is asked for, by their places.
    fn groups(&self, page: &Page) -> Result<Vec<usize>, String> {
        let Request::Gear {
            group: Some(name), ..
        } = self
        else {
            return Ok((0..page.groups.len()).collect());
        };
        match page.groups.iter().position(|group| group == name) {
            Some(place) => Ok(vec![place]),
            None => Err(format!(
                "there is no group {name}; there is {}",
                page.groups.join(", ")
            )),
        }
    }

    /// What the loop has to be told for it.
    ///
    /// # Errors
    /// Why there is no such thing, in words.
    pub fn orders(&self, page: &Page) -> Result<Vec<Order>, String> {
        if let Some((mode, on)) = self.mode() {
            return Ok(vec![Order::Mode(mode, on)]);
        }
        let Request::Gear { to, .. } = self else {
            return Ok(Vec::new());
        };
        let groups = self.groups(page)?;
        let most = groups
            .iter()
            .map(|place| page.gears[*place])
            .max()
            .unwrap_or(1);
        if !(1..=most).contains(to) {
            return Err(format!("there is no gear {to}: gears go from 1 to {most}"));
        }
        let gear = to - 1;
        let order = |place| Order::Gear {
            group: place as u8,
            gear,
        };
        Ok(groups.into_iter().map(order).collect())
    }

    /// What came of it, as `page` tells, which is of a turn after it was asked.
    pub fn outcome(&self, page: &Page) -> Answer {
        if let Some((mode, on)) = self.mode() {
            return switched(mode, on, page.status.modes.get(mode));
        }
        match self {
            Request::Stop {} => match page.status.state {
                State::Stopped(_) => Answer::yes("stopped: a pad in control releases it"),
                State::Ending => Answer::yes("it comes to rest for good"),
                _ => Answer::no("not stopped yet: use the hardware switch"),
            },
            Request::Gear { to, .. } => self.shifted(*to, page),
            _ => Answer::page(page),
        }
    }

    fn shifted(&self, to: u8, page: &Page) -> Answer {
        let groups = self.groups(page).unwrap_or_default();
        let wanted = |place: &usize| page.gears[*place].min(to) - 1;
        let mut others = groups
            .iter()
            .filter(|place| page.status.groups[**place].gear != wanted(place));
        match others.next() {
            None => Answer::yes(format!("gear {to}")),
            Some(place) => Answer::no(format!(
                "still gear {} ({}): the camera is rolling; centre the sticks first",
                page.status.groups[*place].gear + 1,
                page.groups[*place]
            )),
        }
    }
}

fn switched(mode: Mode, on: bool, is: Switch) -> Answer {
    let name = mode.name();
    match (on, is) {
        (true, Switch::On) => Answer::yes(format!("{name} is on")),
        (false, Switch::Off) => Answer::yes(format!("{name} is off")),
        (false, Switch::Leaving) => {
            Answer::yes(format!("{name} goes off as soon as the sticks are centred"))
        }
        (false, Switch::On) => Answer::no(format!(
            "{name} stays on: the camera is rolling; end that first"
        )),
        (true, _) => Answer::no(format!(
            "{name} is not on: somebody else switched it meanwhile"
        )),
    }
}
