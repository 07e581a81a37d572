//! Why motion is withheld.

use stillhand_engine::input::LinkLoss;
use stillhand_engine::output::Why;

/// Every reason there is. A new one does not compile before it is here, and so in whatever
/// asks for them all.
pub fn all_whys() -> Vec<Why> {
    let after = |why: Why| match why {
        Why::Start => Some(Why::PadLost),
        Why::PadLost => Some(Why::PadSilent),
        Why::PadSilent => Some(Why::StopReleased),
        Why::StopReleased => Some(Why::ProfileChanged),
        Why::ProfileChanged => Some(Why::StillEnded),
        Why::StillEnded => Some(Why::ControlPassed),
        Why::ControlPassed => Some(Why::RigChanged),
        Why::RigChanged => Some(Why::Reference),
        Why::Reference => Some(Why::ReferenceAsked),
        Why::ReferenceAsked => Some(Why::Late),
        Why::Late => Some(Why::Residual { rig: 0, axis: 0 }),
        Why::Residual { .. } => Some(Why::LinkLost(LinkLoss::Unplugged)),
        Why::LinkLost(LinkLoss::Unplugged) => Some(Why::LinkLost(LinkLoss::Stalled)),
        Why::LinkLost(LinkLoss::Stalled) => Some(Why::LinkLost(LinkLoss::Silent)),
        Why::LinkLost(LinkLoss::Silent) => Some(Why::LinkLost(LinkLoss::Restarted)),
        Why::LinkLost(LinkLoss::Restarted) => Some(Why::LinkLost(LinkLoss::RigStopped)),
        Why::LinkLost(LinkLoss::RigStopped) => Some(Why::LinkLost(LinkLoss::Fault)),
        Why::LinkLost(LinkLoss::Fault) => Some(Why::LinkLost(LinkLoss::StopInput)),
        Why::LinkLost(LinkLoss::StopInput) => Some(Why::LinkLost(LinkLoss::PowerOff)),
        Why::LinkLost(LinkLoss::PowerOff) => Some(Why::LinkLost(LinkLoss::Disagrees)),
        Why::LinkLost(LinkLoss::Disagrees) => Some(Why::LinkLost(LinkLoss::Hushed)),
        Why::LinkLost(LinkLoss::Hushed) => Some(Why::LinkLost(LinkLoss::Reference)),
        Why::LinkLost(LinkLoss::Reference) => None,
    };
    std::iter::successors(Some(Why::Start), |why| after(*why)).collect()
}
