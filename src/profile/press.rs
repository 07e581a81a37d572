//! Presses as files write them: `"east"`, `"hold start"`, `"tl + west"`.

use super::field::Field;
use super::near::{either, nearest};
use super::problem::{Log, Problem};
use super::table::{Value, found, got, wrong_type};
use stillhand_engine::bindings::Press;
use stillhand_engine::input::{Button, Control};

/// A press as files and screens write it.
pub fn press_text(press: Press) -> String {
    match press {
        Press::Tap(button) => button.name().to_owned(),
        Press::Held(button) => format!("hold {}", button.name()),
        Press::With { with, button } => format!("{} + {}", with.name(), button.name()),
    }
}

/// How a press may be written, for messages.
pub(super) fn presses() -> String {
    let buttons = either(Button::ALL.map(Button::name));
    format!(
        "{buttons}; after \"hold \" one that is kept down for 0.6 s; \"tl + west\" is west with tl down"
    )
}

/// Reads a press; `None` inside stands for the word `none`, where that may be.
pub(super) fn press(
    label: &str,
    value: &Value,
    or_none: bool,
    log: &mut Log,
) -> Field<Option<Press>> {
    let mut allowed = presses();
    if or_none {
        allowed.push_str("; or none");
    }
    let Some(text) = value.get_ref().as_str() else {
        log.push(wrong_type(label, value, "a press in quotes", log).allowed(allowed));
        return Field::Bad;
    };
    if or_none && text == "none" {
        return got(None, value.span());
    }
    let parsed = match text {
        "none" => Err((
            "can't be left unbound",
            "choose a press, or take the line out for the usual one".to_owned(),
        )),
        text => parse(text),
    };
    match parsed {
        Ok(press) => got(Some(press), value.span()),
        Err((what, mend)) => {
            log.push(
                Problem::at(value.span(), format!("{label} {what}"))
                    .found(found(text))
                    .allowed(allowed)
                    .mend(mend),
            );
            Field::Bad
        }
    }
}

/// The press, or what is wrong with the text and how to mend it.
fn parse(text: &str) -> Result<Press, (&'static str, String)> {
    if let Some((with, button)) = text.split_once('+') {
        if button.contains('+') {
            let mend = "one button held and one tapped is as much as fingers remember";
            return Err(("is of more than two buttons", mend.to_owned()));
        }
        let (with, button) = (known(with.trim())?, known(button.trim())?);
        if with == button {
            let mend = format!("write \"hold {}\", or name two buttons", button.name());
            return Err(("is a button with itself", mend));
        }
        return Ok(Press::With { with, button });
    }
    match text.trim().split_once(char::is_whitespace) {
        Some(("hold", button)) => Ok(Press::Held(known(button.trim())?)),
        Some((_, button)) => Err((
            "is a press we don't know",
            match Button::from_name(button.trim()) {
                Some(button) => format!("write \"hold {0}\" or \"{0}\"", button.name()),
                None => "write \"east\", \"hold start\" or \"tl + west\"".to_owned(),
            },
        )),
        None => Ok(Press::Tap(known(text)?)),
    }
}

fn known(name: &str) -> Result<Button, (&'static str, String)> {
    if let Some(button) = Button::from_name(name) {
        return Ok(button);
    }
    if Control::from_name(name).is_some() {
        return Err((
            "is a stick or trigger, not a button",
            "choose a button".to_owned(),
        ));
    }
    let mend = match nearest(name, Button::ALL.map(Button::name)) {
        Some(near) => format!("did you mean \"{near}\"?"),
        None => "choose one of those".to_owned(),
    };
    Err(("is a word we don't know", mend))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn presses_are_read_as_they_are_written() {
        let with = Press::With {
            with: Button::Tl,
            button: Button::West,
        };
        for (text, press) in [
            ("east", Press::Tap(Button::East)),
            ("hold start", Press::Held(Button::Start)),
            ("hold   dpad-up ", Press::Held(Button::DpadUp)),
            ("tl + west", with),
            ("tl+west", with),
        ] {
            assert_eq!(parse(text), Ok(press));
            assert_eq!(parse(&press_text(press)), Ok(press));
        }
    }

    #[test]
    fn other_texts_say_how_to_mend_them() {
        let mend = |text: &str| parse(text).unwrap_err().1;
        assert_eq!(mend("esat"), "did you mean \"east\"?");
        assert_eq!(mend("long start"), "write \"hold start\" or \"start\"");
        assert_eq!(mend("tl + tl"), "write \"hold tl\", or name two buttons");
        assert_eq!(mend("hold rt"), "choose a button");
        for text in [
            "",
            " ",
            "+",
            "tl +",
            "hold",
            "hold ",
            "tl + tr + west",
            "hold hold east",
        ] {
            assert!(parse(text).is_err(), "{text}");
        }
    }
}
