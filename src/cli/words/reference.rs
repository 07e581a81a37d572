//! What is said of a reference that was asked for.

use super::About;
use stillhand_engine::reference::{NotReferenced, Reference, Stands};
use stillhand_engine::rig::{Axis, Travel};

/// The log line of what became of a reference; warnings are those the operator must act upon.
pub fn reference(asked: Reference, stands: Stands, about: &About) -> (bool, String) {
    let axis = about.rig.axes.get(usize::from(asked.axis));
    let name = about.axis(asked.axis);
    let unit = axis.map_or("", |axis| axis.unit.symbol());
    let at = format!("{} {unit}", asked.at);
    match stands {
        Stands::Never => (false, "no reference was asked for yet".to_owned()),
        Stands::Asked => (
            false,
            format!(
                "the rig is asked to go by {name} standing at {at}: nothing moves until it answers"
            ),
        ),
        Stands::Taken => (
            false,
            format!("{name} has its reference: where it stands is {at}"),
        ),
        Stands::Refused(why) => (
            true,
            format!("{name} is given no reference: {}", refused(why, axis)),
        ),
    }
}

fn refused(why: NotReferenced, axis: Option<&Axis>) -> String {
    match why {
        NotReferenced::Busy => "another one is not answered yet; wait for that",
        NotReferenced::NoLink => "the rig can't be asked now; the status says why",
        NotReferenced::Rolling => "the camera is rolling; end that first",
        NotReferenced::Moving => "something moves; let everything come to rest first",
        NotReferenced::Stick => "a stick is held over; let go of all of them first",
        NotReferenced::Already => {
            "it has one; if where it says it stands is wrong, ask with `again`"
        }
        NotReferenced::Outside => return outside(axis),
        NotReferenced::NoAnswer => {
            "the rig does not answer that; its firmware may be older than references set by hand: \
             bring it up to date, or let it find its reference by itself"
        }
        NotReferenced::LinkLost => {
            "the link was lost before the rig answered; once it is back, see where the axis stands \
             and ask anew"
        }
        NotReferenced::NotTaken => {
            "the rig does not stand there after all; ask anew, or check its firmware"
        }
    }
    .to_owned()
}

fn outside(axis: Option<&Axis>) -> String {
    let ends = axis.and_then(|axis| match axis.travel {
        Travel::Finite(ends) => Some((ends, axis.unit.symbol())),
        Travel::Continuous => None,
    });
    match ends {
        Some((ends, unit)) => format!(
            "its travel goes from {} to {} {unit}; give a value inside, or mend `travel` in the rig file",
            ends.low().0,
            ends.high().0
        ),
        None => "that is further than a rig counts; give a value nearer to 0".to_owned(),
    }
}
