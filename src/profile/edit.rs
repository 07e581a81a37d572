//! One value of a file changed in its text, with everything else left as it stands, remarks included.

use super::RigFile;
use std::ops::Range;
use stillhand_engine::rig::{Axes, Axis};
use toml::de::{DeTable, DeValue};

/// The text with `key` of the table at `path` set to `value`, written as TOML writes it; `None` where the text is no
/// TOML or has no such table of its own.
///
/// A value that is there is replaced where it stands; one that is not is added below the table's heading.
pub fn set(text: &str, path: &[&str], key: &str, value: &str) -> Option<String> {
    let root = DeTable::parse(text).ok()?;
    let (heading, table) = table(root.span(), root.get_ref(), path)?;
    let mut edited = text.to_owned();
    match table.get(key) {
        Some(old) => edited.replace_range(old.span(), value),
        None => {
            // An inline table has no heading: where a key would go in it is not for a program to guess.
            let heading = Some(heading).filter(|h| text[h.clone()].starts_with('['))?;
            let line = text[heading.end..].find('\n');
            let at = line.map_or(text.len(), |place| heading.end + place);
            edited.insert_str(at, &format!("\n{key} = {value}"));
        }
    }
    Some(edited)
}

/// Whether an edited rig file is `file` with its axes changed by `change`, and nothing else.
pub fn is_but_for(edited: &RigFile, file: &RigFile, change: impl Fn(usize, &mut Axis)) -> bool {
    let mut wanted = file.clone();
    let mut axes: Vec<Axis> = wanted.rig.axes.to_vec();
    for (place, axis) in axes.iter_mut().enumerate() {
        change(place, axis);
    }
    let Some(axes) = Axes::new(axes) else {
        return false;
    };
    wanted.rig.axes = axes;
    *edited == wanted
}

/// A value as it stands in the text; `None` where there is none.
pub fn text_of(text: &str, path: &[&str], key: &str) -> Option<String> {
    let root = DeTable::parse(text).ok()?;
    let (_, table) = table(root.span(), root.get_ref(), path)?;
    text.get(table.get(key)?.span()).map(str::to_owned)
}

/// The table at a path, and where its heading stands.
fn table<'a>(
    span: Range<usize>,
    root: &'a DeTable<'a>,
    path: &[&str],
) -> Option<(Range<usize>, &'a DeTable<'a>)> {
    path.iter().try_fold((span, root), |(_, table), name| {
        let value = table.get(*name)?;
        match value.get_ref() {
            DeValue::Table(inner) => Some((value.span(), inner)),
            _ => None,
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "# the hall\n[rig]\nid = \"hall\"   # as it says\nmount = \"upright\"\n\n\
                        [axis.pan]      # pulls at 170\nspeed = \"60 deg/s\"\nreverse = false # as wired\n\n\
                        [axis.tilt]\nspeed = \"40 deg/s\"\n";

    #[test]
    fn a_value_is_replaced_where_it_stands_and_nothing_else() {
        let edited = set(TEXT, &["axis", "pan"], "reverse", "true").expect("it is there");
        assert_eq!(edited, TEXT.replace("reverse = false", "reverse = true"));
        let edited = set(TEXT, &["rig"], "mount", "\"underslung\"").expect("it is there");
        assert_eq!(edited, TEXT.replace("upright", "underslung"));
        assert_eq!(
            text_of(&edited, &["rig"], "mount").as_deref(),
            Some("\"underslung\"")
        );
    }

    #[test]
    fn one_that_is_not_there_is_added_below_the_heading() {
        let edited = set(TEXT, &["axis", "tilt"], "reverse", "true").expect("a heading");
        assert_eq!(
            edited,
            TEXT.replace("[axis.tilt]\n", "[axis.tilt]\nreverse = true\n")
        );
        let edited = set(TEXT, &["axis", "pan"], "enable", "true").expect("a heading");
        let below = "[axis.pan]      # pulls at 170\nenable = true\n";
        assert!(edited.contains(below), "{edited}");
        // At the very end, with no line break behind it.
        let short = "[axis.pan]";
        let edited = set(short, &["axis", "pan"], "reverse", "true");
        assert_eq!(edited.as_deref(), Some("[axis.pan]\nreverse = true"));
    }

    #[test]
    fn what_has_no_heading_is_left_alone() {
        let inline = "axis = { pan = { speed = \"60 deg/s\" } }\n";
        assert_eq!(set(inline, &["axis", "pan"], "reverse", "true"), None);
        let edited = set(inline, &["axis", "pan"], "speed", "\"50 deg/s\"").expect("there");
        assert_eq!(edited, inline.replace("60", "50"));
        assert_eq!(set(TEXT, &["axis", "roll"], "reverse", "true"), None);
        assert_eq!(set("[axis", &["axis"], "reverse", "true"), None);
    }
}
