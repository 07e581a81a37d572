//! What is said of motion that was asked for leg by leg.

use crate::profile::enable_name;
use stillhand_engine::errand::{ErrandEnd, ErrandNews, Refusal};

/// The log line of what became of an errand; warnings are those the operator must act upon.
pub(super) fn news(news: ErrandNews) -> (bool, String) {
    match news {
        ErrandNews::Offered { press, keep } => {
            let press = enable_name(press);
            let how = match keep {
                true => "the rig moves by itself after 0.6 s, as long as it is held",
                false => "after 0.6 s the rig moves by itself",
            };
            (
                true,
                format!("keep clear; let go of the sticks and hold {press}: {how}"),
            )
        }
        ErrandNews::Begun => (
            false,
            "keep clear: the rig moves by itself; any stick or the stop ends it".to_owned(),
        ),
        ErrandNews::Leg(place) => (false, format!("move {} begins", place + 1)),
        ErrandNews::Done => (false, "all moves that were asked for are done".to_owned()),
        ErrandNews::Ended(why) => (true, format!("the moves ended early: {}", ended(why))),
        ErrandNews::Refused(why) => (true, format!("the moves are refused: {}", refused(why))),
    }
}

fn ended(why: ErrandEnd) -> &'static str {
    match why {
        ErrandEnd::Stick => "a stick was pushed; let go of it",
        ErrandEnd::Withheld => "motion is withheld",
        ErrandEnd::LetGo => "what has to be held was let go",
        ErrandEnd::Rolling => "the camera is rolling",
        ErrandEnd::Ceiling => "the next one is faster than the ceilings allow now",
        ErrandEnd::Band => "quiet avoids the speed of the next one: switch quiet off to measure it",
        ErrandEnd::Travel => "an end of the travel came first",
        ErrandEnd::CalledOff => "they were called off",
    }
}

fn refused(why: Refusal) -> &'static str {
    match why {
        Refusal::Busy => "others are under way",
        Refusal::TooLate => "the first was to begin before the press came",
        Refusal::NoHand => "the profile does not drive every axis of them",
        Refusal::Bound => "the button that would begin them does something else",
        Refusal::Groups => "their axes are held by different pads",
        Refusal::Unreferenced => "an axis has no reference",
        Refusal::Outside => "an axis is outside its travel",
        Refusal::Rolling => "the camera is rolling",
    }
}
