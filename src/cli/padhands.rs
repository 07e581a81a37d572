//! Which pad is whose: an operator for the very unit that takes control.

use crate::shell::pad::PresentPad;
use std::str::FromStr;
use stillhand_engine::output::GroupStatus;

/// A pad and its operator, as `--operator-for` names them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PadHand {
    /// The unit, as `stillhand pads` prints it.
    pub pad: String,
    /// The operator's name.
    pub operator: String,
}

/// What is wrong with it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BadPadHand(String);

impl std::fmt::Display for BadPadHand {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let BadPadHand(text) = self;
        write!(
            f,
            "`{text}` names no pad and operator: say ID=NAME, with an ID that `stillhand pads` prints"
        )
    }
}

impl std::error::Error for BadPadHand {}

impl FromStr for PadHand {
    type Err = BadPadHand;

    fn from_str(text: &str) -> Result<PadHand, BadPadHand> {
        // The last one: names have none, and an ID may.
        match text.rsplit_once('=') {
            Some((pad, operator)) if !pad.is_empty() && !operator.is_empty() => Ok(PadHand {
                pad: pad.to_owned(),
                operator: operator.to_owned(),
            }),
            _ => Err(BadPadHand(text.to_owned())),
        }
    }
}

/// Watches which pad takes control, and knows whose it is.
#[derive(Debug, Default)]
pub(super) struct PadHands {
    table: Vec<PadHand>,
    /// The pad that had everything last.
    last: Option<String>,
}

impl PadHands {
    pub(super) fn of(table: Vec<PadHand>) -> PadHands {
        PadHands { table, last: None }
    }

    /// The operator whose pad has just taken every one of these groups. Whoever was chosen by hand since
    /// stays until a pad takes them anew.
    pub(super) fn taken(
        &mut self,
        groups: &[GroupStatus],
        present: &[PresentPad],
    ) -> Option<&PadHand> {
        let (first, others) = groups.split_first()?;
        let place = first
            .pad
            .filter(|_| others.iter().all(|own| own.pad == first.pad));
        let Some(place) = place else {
            self.last = None;
            return None;
        };
        // One that is not listed yet is asked for again by the next look.
        let pad = present.iter().find(|pad| pad.pad == place)?;
        if self.last.as_ref() == Some(&pad.id) {
            return None;
        }
        self.last = Some(pad.id.clone());
        self.table.iter().find(|own| own.pad == pad.id)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shell::pad::device::Bus;
    use stillhand_engine::input::{PadBus, PadId};

    fn present(place: u8, id: &str) -> PresentPad {
        PresentPad {
            pad: PadId(place),
            id: id.to_owned(),
            name: String::new(),
            bus: Bus::Usb,
            node: "/dev/input/event0".into(),
            drives: true,
            trimmed: false,
            life: PadBus::Usb,
        }
    }

    fn held(by: &[Option<u8>]) -> Vec<GroupStatus> {
        let group = |pad: &Option<u8>| GroupStatus {
            pad: pad.map(PadId),
            ..GroupStatus::default()
        };
        by.iter().map(group).collect()
    }

    #[test]
    fn an_id_may_have_anything_before_the_last_sign() {
        let hand: PadHand = "usb-1=2=viola".parse().expect("good");
        assert_eq!(
            (hand.pad.as_str(), hand.operator.as_str()),
            ("usb-1=2", "viola")
        );
        for bad in ["viola", "=viola", "usb-1=", ""] {
            assert!(bad.parse::<PadHand>().is_err(), "{bad}");
        }
    }

    #[test]
    fn its_operator_comes_with_the_pad_that_takes_everything() {
        let own = |text: &str| text.parse().expect("good");
        let mut hands = PadHands::of(vec![own("a=viola"), own("b=cello")]);
        let mut taken = |groups: &[GroupStatus], present: &[PresentPad]| {
            let own = hands.taken(groups, present)?;
            Some(own.operator.clone())
        };
        let viola = Some("viola".to_owned());
        let cello = Some("cello".to_owned());
        let all = [present(0, "a"), present(1, "b"), present(2, "c")];
        assert_eq!(taken(&held(&[None, None]), &all), None);
        assert_eq!(
            taken(&held(&[Some(0), Some(0)]), &all[1..]),
            None,
            "not listed yet"
        );
        assert_eq!(taken(&held(&[Some(0), Some(0)]), &all), viola);
        assert_eq!(taken(&held(&[Some(0), Some(0)]), &all), None, "once");
        assert_eq!(taken(&held(&[Some(0), Some(1)]), &all), None, "half of it");
        assert_eq!(taken(&held(&[Some(1), Some(1)]), &all), cello);
        assert_eq!(taken(&held(&[Some(2), Some(2)]), &all), None, "nobody's");
        // Another unit in the same place.
        assert_eq!(taken(&held(&[Some(0)]), &all), viola);
        assert_eq!(taken(&held(&[Some(0)]), &[present(0, "b")]), cello);
    }
}
