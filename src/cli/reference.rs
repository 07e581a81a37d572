//! `stillhand reference`: where an axis stands is told to the rig, through the running daemon.

use super::Outcome;
use super::ask::{Whom, order};
use crate::shell::socket::request::Request;

/// Which axis, and where it stands.
#[derive(Debug, clap::Args)]
pub struct ReferenceArgs {
    /// The axis
    #[arg(value_name = "AXIS")]
    axis: String,
    /// Where it stands now, such as here=0deg
    #[arg(value_name = "here=VALUE")]
    here: String,
    /// Also if it has a reference: everything that was set by the old one then means another place
    #[arg(long)]
    again: bool,
    #[command(flatten)]
    whom: Whom,
}

/// Asks for the reference, and says what came of it.
pub fn reference(args: &ReferenceArgs) -> Outcome {
    let Some(here) = value(&args.here) else {
        return Outcome::bad_file(format!(
            "`{}`: say where {} stands, such as here=0deg, or here=120mm for a slide",
            args.here, args.axis
        ));
    };
    let request = Request::Reference {
        axis: args.axis.clone(),
        here: here.to_owned(),
        again: args.again,
    };
    order(&args.whom, &request)
}

fn value(word: &str) -> Option<&str> {
    let (name, value) = word.split_once('=')?;
    (name.trim() == "here").then(|| value.trim())
}

#[cfg(test)]
mod tests {
    use super::value;

    #[test]
    fn a_place_is_said_as_here() {
        assert_eq!(value("here=0deg"), Some("0deg"));
        assert_eq!(value("here = -12.5 mm"), Some("-12.5 mm"));
        for wrong in ["0deg", "there=0deg", "here", ""] {
            assert_eq!(value(wrong), None, "{wrong}");
        }
    }
}
