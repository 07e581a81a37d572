//! What is asked of one axis at the control socket: where it stands, and how far it may go.

use super::request::Answer;
use super::{Client, PATIENCE, SILENT};
use crate::profile::Quantity;
use crate::shell::pages::{Page, PageAxis};
use crate::shell::wishes::{NewEnds, Wish};
use stillhand_engine::input::Order;
use stillhand_engine::reference::Reference;
use tokio::sync::oneshot;

impl Client {
    /// Has the rig take a reference, and waits for what comes of it.
    pub(super) async fn reference(&mut self, name: &str, here: &str, again: bool) -> Answer {
        let one_at_a_time = self.asker.referring.clone();
        let Ok(_turn) = one_at_a_time.try_lock() else {
            return Answer::no(BUSY);
        };
        let Some(page) = self.page().await else {
            return Answer::no(SILENT);
        };
        let asked = match asked(&page, name, here, again) {
            Ok(asked) => asked,
            Err(words) => return Answer::no(words),
        };
        if page.status.reference.is_pending() {
            return Answer::no(BUSY);
        }
        if !self.push(&[Order::Reference(asked)]) {
            return Answer::no("too much was asked at once: ask again");
        }
        let before = page.status.reference.number;
        match tokio::time::timeout(PATIENCE, self.settled(before)).await {
            Ok(answer) => answer,
            Err(_) => {
                Answer::no("the rig has not answered yet: see in the status what comes of it")
            }
        }
    }

    /// What came of the reference that was asked for after the one of this number.
    async fn settled(&mut self, before: u32) -> Answer {
        loop {
            let Some(page) = self.page().await else {
                return Answer::no(SILENT);
            };
            let reference = &page.status.reference;
            if reference.number == before || reference.is_pending() {
                continue;
            }
            let (taken, words) = &page.reference;
            return match taken {
                true => Answer::yes(words.clone()),
                false => Answer::no(words.clone()),
            };
        }
    }

    /// Tells how far an axis may go, or has its file say so.
    pub(super) async fn travel(&mut self, name: &str, ends: [Option<&str>; 2]) -> Answer {
        let Some(page) = self.page().await else {
            return Answer::no(SILENT);
        };
        let axis = match axis(&page, name) {
            Ok((_, axis)) => axis,
            Err(words) => return Answer::no(words),
        };
        if ends == [None, None] {
            return Answer::yes(axis.stands.clone());
        }
        if page.status.modes.rolling.on() {
            return Answer::no(format!(
                "the travel of {name} stays as it is: the camera is rolling; end that first"
            ));
        }
        let words = |(end, to): (&str, Option<&str>)| Some(format!("{end}={}", to?));
        let (reply, heard) = oneshot::channel();
        let wish = NewEnds {
            axis: name.to_owned(),
            ends: ["low", "high"]
                .into_iter()
                .zip(ends)
                .filter_map(words)
                .collect(),
            here: axis.here.clone(),
        };
        if !self.asker.wishes.ask(Wish::Travel(wish, reply)) {
            return Answer::no("too much was asked at once: ask again");
        }
        match tokio::time::timeout(PATIENCE, heard).await {
            Ok(Ok(Ok(words))) => Answer::yes(words),
            Ok(Ok(Err(why))) => Answer::no(why),
            Ok(Err(_)) | Err(_) => Answer::no(SILENT),
        }
    }
}

const BUSY: &str = "another reference is asked for just now: wait for its answer, then ask again";

/// The axis of that name, and its place.
fn axis<'a>(page: &'a Page, name: &str) -> Result<(u8, &'a PageAxis), String> {
    let named = |(_, axis): &(u8, &PageAxis)| axis.name == name;
    (0..).zip(&page.axes).find(named).ok_or_else(|| {
        let names: Vec<&str> = page.axes.iter().map(|axis| axis.name.as_str()).collect();
        format!("there is no axis {name}; there is {}", names.join(", "))
    })
}

/// What a request for a reference comes to.
pub(super) fn asked(page: &Page, name: &str, here: &str, again: bool) -> Result<Reference, String> {
    let (place, axis) = axis(page, name)?;
    let value = Quantity::read(here).and_then(|value| value.position_in(axis.unit));
    let at = value.ok_or_else(|| {
        let unit = axis.unit.symbol();
        format!("`{here}`: say where {name} stands in {unit}, such as 0{unit}")
    })?;
    Ok(Reference {
        rig: 0,
        axis: place,
        at,
        again,
    })
}
