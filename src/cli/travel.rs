//! `stillhand travel`: an end of an axis's travel set where the axis stands, or at a value, in the rig file.

use super::ask::{Whom, order, status_of};
use super::pick::pick_axis;
use super::survey::whole;
use super::{Outcome, files};
use crate::profile::{Problems, Quantity, RigFile, Source, edit, load_rig};
use crate::shell::socket::request::Request;
use crate::shell::wishes::NewEnds;
use serde_json::Value;
use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use stillhand_engine::output::AxisStatus;
use stillhand_engine::rig::{Axis, Ends, Travel};
use stillhand_engine::units::Pos;

/// Which end, and where.
#[derive(Debug, clap::Args)]
pub struct TravelArgs {
    /// The axis
    #[arg(value_name = "AXIS")]
    axis: String,
    /// One end or both: low=here, high=here, or a value such as low=-30deg
    #[arg(value_name = "low=|high=", required = true, num_args = 1..=2)]
    ends: Vec<String>,
    /// The rig file; without one, that of the running daemon
    #[arg(long, value_name = "FILE")]
    rig: Option<PathBuf>,
    #[command(flatten)]
    whom: Whom,
}

/// Sets ends.
pub fn travel(args: &TravelArgs) -> Outcome {
    let Some(path) = &args.rig else {
        return match request(&args.axis, &args.ends) {
            Ok(request) => order(&args.whom, &request),
            Err(words) => Outcome::bad_file(words),
        };
    };
    let here = |file: &RigFile, axis: &Axis| here(&args.whom, file, axis);
    let colour = std::io::stderr().is_terminal();
    match set(path, &args.axis, &args.ends, colour, here) {
        Ok(words) => {
            println!("{words}");
            Outcome::good()
        }
        Err(outcome) => outcome,
    }
}

/// Ends as they are asked for at the control socket.
fn request(axis: &str, ends: &[String]) -> Result<Request, String> {
    let (mut low, mut high) = (None, None);
    for word in ends {
        let (end, to) = word
            .split_once('=')
            .map_or(("", ""), |(end, to)| (end.trim(), to.trim()));
        let slot = match end {
            "low" => &mut low,
            "high" => &mut high,
            _ => return Err(format!("`{word}`: say low= or high=, such as high=here")),
        };
        if slot.replace(to.to_owned()).is_some() {
            return Err(given_before(word));
        }
    }
    let axis = axis.to_owned();
    Ok(Request::Travel { axis, low, high })
}

/// Sets ends in a rig file, and says what was done. `here` is asked only if an end is where the axis stands.
///
/// # Errors
/// The outcome to end with; the file is then as it was.
pub(super) fn set(
    path: &Path,
    name: &str,
    ends: &[String],
    colour: bool,
    here: impl FnOnce(&RigFile, &Axis) -> Result<f64, Outcome>,
) -> Result<String, Outcome> {
    let bad = |problems: Problems| Outcome::bad_file(problems.render(colour).trim_end());
    let source = files::read(path).map_err(bad)?;
    let file = load_rig(&source).map_err(bad)?;
    let place = pick_axis(name, &file.rig).map_err(Outcome::bad_file)?;
    let axis = &file.rig.axes[place];
    let asked = Asked::read(ends, axis).map_err(Outcome::bad_file)?;
    let here = match asked.needs_here() {
        true => Some(here(&file, axis)?),
        false => None,
    };
    let ends = asked.ends(axis, here).map_err(Outcome::bad_file)?;
    let new = edited(&file, &source, place, ends).map_err(|problems| match problems {
        Some(problems) => bad(problems),
        None => Outcome::fault(format!(
            "{}: this can't be written without touching more of it: change `travel` of {} by hand",
            path.display(),
            axis.name
        )),
    })?;
    let before = whole::write_keeping(path, &source.text, &new)?;
    Ok(format!(
        "{}: travel {} to {} {} from now on; the file as it was: {}\n\
         A daemon that runs takes it over at rest, with the sticks let go.",
        axis.name,
        ends.low().0,
        ends.high().0,
        axis.unit.symbol(),
        before.display()
    ))
}

/// Where the running daemon says the axis is.
fn here(whom: &Whom, file: &RigFile, axis: &Axis) -> Result<f64, Outcome> {
    let status = status_of(whom).map_err(Outcome::fault)?;
    let rig = status["rig"].as_str().unwrap_or_default();
    if rig != file.rig.id {
        return Err(Outcome::bad_file(format!(
            "the daemon drives rig \"{rig}\", the file is of \"{}\": say which with --rig or --socket",
            file.rig.id
        )));
    }
    let axes = status["axes"].as_array().map_or(&[][..], Vec::as_slice);
    let own = axes.iter().find(|own| own["name"] == axis.name.as_str());
    where_it_is(own.unwrap_or(&Value::Null), axis).map_err(Outcome::fault)
}

fn where_it_is(status: &Value, axis: &Axis) -> Result<f64, String> {
    let name = &axis.name;
    let referenced = status["place"] != "unreferenced";
    match (status["position"].as_f64(), status["speed"].as_f64()) {
        (Some(position), Some(speed)) => at_rest(axis, referenced, position, speed),
        _ => Err(format!("the daemon does not say where {name} stands")),
    }
}

/// Where an axis is, if it is known and does not change.
///
/// # Errors
/// In words, why nobody can say.
pub(super) fn at_rest(
    axis: &Axis,
    referenced: bool,
    position: f64,
    speed: f64,
) -> Result<f64, String> {
    let name = &axis.name;
    if !referenced {
        return Err(format!(
            "{name} has no reference, so nobody knows where it stands: bring it to a mark and say \
             `stillhand reference {name} here=...`"
        ));
    }
    if speed != 0.0 {
        return Err(format!("{name} moves: let it come to rest first"));
    }
    Ok(position)
}

/// What was asked for an end.
#[derive(Clone, Copy, Debug, PartialEq)]
enum To {
    Here,
    Value(f64),
}

#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Asked {
    low: Option<To>,
    high: Option<To>,
}

impl Asked {
    fn read(words: &[String], axis: &Axis) -> Result<Asked, String> {
        let mut asked = Asked::default();
        for word in words {
            let unit = axis.unit.symbol();
            let wrong = || {
                format!(
                    "`{word}`: say low=here, high=here, or a value in {unit} such as low=-30{unit}"
                )
            };
            let (end, to) = word.split_once('=').ok_or_else(wrong)?;
            let to = match to.trim() {
                "here" => To::Here,
                value => {
                    let value = Quantity::read(value).and_then(|q| q.position_in(axis.unit));
                    To::Value(value.ok_or_else(wrong)?)
                }
            };
            let slot = match end.trim() {
                "low" => &mut asked.low,
                "high" => &mut asked.high,
                _ => return Err(wrong()),
            };
            if slot.replace(to).is_some() {
                return Err(given_before(word));
            }
        }
        Ok(asked)
    }

    fn needs_here(&self) -> bool {
        [self.low, self.high].contains(&Some(To::Here))
    }

    /// The ends with what was asked for in them.
    fn ends(&self, axis: &Axis, here: Option<f64>) -> Result<Ends, String> {
        let Travel::Finite(old) = axis.travel else {
            return Err(format!(
                "{} goes round and round: it has no ends to set; give it `travel` in the rig file first",
                axis.name
            ));
        };
        let end = |asked: Option<To>, old: Pos| match asked {
            None => old,
            Some(To::Value(value)) => Pos(value),
            // A hundredth is less than anybody can set by eye.
            Some(To::Here) => Pos(here.map_or(old.0, |at| (at * 100.0).round() / 100.0 + 0.0)),
        };
        let (low, high) = (end(self.low, old.low()), end(self.high, old.high()));
        Ends::new(low, high).ok_or_else(|| {
            format!(
                "{} would go from {} to {} {}: the low end must be below the high one",
                axis.name,
                low.0,
                high.0,
                axis.unit.symbol()
            )
        })
    }
}

/// The end nearest to where an axis stands, to be there from now on.
pub(super) fn nearest_end(axis: &Axis, status: &AxisStatus) -> NewEnds {
    let at = status.position;
    let low = match axis.travel {
        Travel::Finite(ends) => at - ends.low().0 < ends.high().0 - at,
        // It has none, as whoever writes them will say.
        Travel::Continuous => false,
    };
    NewEnds {
        axis: axis.name.clone(),
        ends: vec![if low { "low=here" } else { "high=here" }.to_owned()],
        here: at_rest(axis, status.referenced, at, status.speed),
    }
}

fn given_before(word: &str) -> String {
    format!("`{word}`: that end was given before")
}

/// The file's text with another travel.
///
/// # Errors
/// What would be wrong with it, or `None` where more than that would be different.
fn edited(
    file: &RigFile,
    source: &Source,
    place: usize,
    ends: Ends,
) -> Result<String, Option<Problems>> {
    let axis = &file.rig.axes[place];
    let unit = axis.unit.symbol();
    let value = format!(
        "[\"{} {unit}\", \"{} {unit}\"]",
        ends.low().0,
        ends.high().0
    );
    let new = edit::set(&source.text, &["axis", &axis.name], "travel", &value).ok_or(None)?;
    let edited = Source::new(&source.name, new);
    let read = load_rig(&edited).map_err(Some)?;
    let same = edit::is_but_for(&read, file, |axis, facts| {
        if axis == place {
            facts.travel = Travel::Finite(ends);
        }
    });
    same.then_some(edited.text).ok_or(None)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile::builtin;
    use serde_json::json;

    fn bench() -> (RigFile, Source) {
        let source = builtin::BENCH_RIG.source();
        (load_rig(&source).expect("shipped"), source)
    }

    fn words(words: &[&str]) -> Vec<String> {
        words.iter().map(|word| (*word).to_owned()).collect()
    }

    #[test]
    fn an_end_is_set_and_the_remark_behind_it_stays() {
        let (file, source) = bench();
        let asked = Asked::read(&words(&["high=here"]), &file.rig.axes[0]).expect("good");
        let ends = asked.ends(&file.rig.axes[0], Some(41.2345)).expect("good");
        let new = edited(&file, &source, 0, ends).expect("it can be");
        let old = "[\"-170 deg\", \"170 deg\"]    # beyond that the monitor cable pulls";
        assert!(source.text.contains(old));
        assert_eq!(
            new,
            source.text.replace(
                "[\"-170 deg\", \"170 deg\"]",
                "[\"-170 deg\", \"41.23 deg\"]"
            )
        );
        let both = words(&["low=-12.5mm", "high = 900 mm"]);
        let asked = Asked::read(&both, &file.rig.axes[2]).expect("good");
        let ends = asked.ends(&file.rig.axes[2], None).expect("good");
        assert_eq!((ends.low().0, ends.high().0), (-12.5, 900.0));
        assert!(edited(&file, &source, 2, ends).is_ok());
        // Further than any rig goes: said as `check` says it.
        let asked = Asked::read(&words(&["high=9000000mm"]), &file.rig.axes[2]).expect("good");
        let ends = asked.ends(&file.rig.axes[2], None).expect("good");
        let problems = edited(&file, &source, 2, ends).expect_err("too far");
        let said = problems.expect("a problem of the file").render(false);
        assert!(said.contains("9000000 mm"), "{said}");
    }

    #[test]
    fn what_makes_no_sense_is_refused_with_what_is_allowed() {
        let (file, _) = bench();
        let pan = &file.rig.axes[0];
        for wrong in [
            "low",
            "middle=here",
            "low=there",
            "low=3",
            "low=3mm",
            "high=nandeg",
        ] {
            let found = Asked::read(&words(&[wrong]), pan).expect_err(wrong);
            assert!(
                found.contains("low=here, high=here, or a value in deg"),
                "{found}"
            );
        }
        let twice = Asked::read(&words(&["low=here", "low=3deg"]), pan);
        assert!(twice.is_err_and(|found| found.contains("given before")));
        let asked = Asked::read(&words(&["low=171deg"]), pan).expect("good");
        let found = asked.ends(pan, None).expect_err("it is above the high one");
        assert!(
            found.contains("pan would go from 171 to 170 deg"),
            "{found}"
        );
        let mut round = pan.clone();
        round.travel = Travel::Continuous;
        assert!(
            asked
                .ends(&round, None)
                .is_err_and(|found| found.contains("round and round"))
        );
    }

    #[test]
    fn here_is_a_place_at_rest_that_is_known() {
        let (file, _) = bench();
        let of = |status: Value| where_it_is(&status, &file.rig.axes[0]);
        let at = json!({"position": 12.5, "speed": 0.0, "place": "inside"});
        assert_eq!(of(at), Ok(12.5));
        for (status, words) in [
            (
                json!({"position": 12.5, "speed": 0.1, "place": "inside"}),
                "moves",
            ),
            (
                json!({"position": 12.5, "speed": 0.0, "place": "unreferenced"}),
                "no reference",
            ),
            (Value::Null, "does not say"),
        ] {
            let found = of(status).expect_err(words);
            assert!(found.contains(words), "{found}");
        }
    }
}
