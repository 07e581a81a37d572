//! The record of a check: as text for people, as JSON for programs, and the verdict.

use super::super::screen::COLUMNS;
use serde::Serialize;

/// What a check found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Found {
    /// As it must be.
    Pass,
    /// Not as it must be.
    Fail,
    /// It was not looked at, or could not be.
    NotShown,
    /// Told, and not judged.
    Told,
}

impl Found {
    const fn word(self) -> &'static str {
        match self {
            Found::Pass => "pass",
            Found::Fail => "NOT",
            Found::NotShown => "not shown",
            Found::Told => "told",
        }
    }
}

/// A figure that was measured.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(super) struct Figure {
    pub(super) name: &'static str,
    pub(super) unit: &'static str,
    pub(super) measured: f64,
    /// By the calculation.
    pub(super) calculated: Option<f64>,
    /// What the two may differ by.
    pub(super) tolerance: Option<f64>,
}

/// One thing that was looked at.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(super) struct Item {
    pub(super) what: String,
    pub(super) found: Found,
    pub(super) says: String,
    /// How to mend it.
    pub(super) mend: Option<String>,
    pub(super) figures: Vec<Figure>,
}

impl Item {
    fn new(what: impl Into<String>, found: Found, says: impl Into<String>) -> Item {
        Item {
            what: what.into(),
            found,
            says: says.into(),
            mend: None,
            figures: Vec::new(),
        }
    }

    pub(super) fn pass(what: impl Into<String>, says: impl Into<String>) -> Item {
        Item::new(what, Found::Pass, says)
    }

    pub(super) fn told(what: impl Into<String>, says: impl Into<String>) -> Item {
        Item::new(what, Found::Told, says)
    }

    pub(super) fn fail(
        what: impl Into<String>,
        says: impl Into<String>,
        mend: impl Into<String>,
    ) -> Item {
        let item = Item::new(what, Found::Fail, says);
        Item {
            mend: Some(mend.into()),
            ..item
        }
    }

    pub(super) fn not_shown(
        what: impl Into<String>,
        says: impl Into<String>,
        mend: impl Into<String>,
    ) -> Item {
        let item = Item::new(what, Found::NotShown, says);
        Item {
            mend: Some(mend.into()),
            ..item
        }
    }

    /// It in a line.
    pub(super) fn line(&self) -> String {
        format!("{:9}  {}: {}", self.found.word(), self.what, self.says)
    }

    pub(super) fn with(mut self, figures: Vec<Figure>) -> Item {
        self.figures = figures;
        self
    }
}

/// A step of the check.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(super) struct StepRecord {
    pub(super) step: &'static str,
    pub(super) items: Vec<Item>,
}

/// What it all comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Verdict {
    /// Everything that is required was shown and is right.
    Ready,
    /// Everything that was asked for is right, and more is required.
    Part,
    /// Something is not right, or was not shown.
    NotReady,
}

/// A whole check.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(super) struct Record {
    pub(super) program: String,
    /// Of this record's fields.
    pub(super) version: u32,
    pub(super) rig: String,
    pub(super) rig_file: String,
    pub(super) operator: String,
    pub(super) began: String,
    pub(super) ended: String,
    pub(super) verdict: Verdict,
    /// What was not asked for.
    pub(super) left_out: Vec<String>,
    /// Why it ended before its end, if it did.
    pub(super) broken_off: Option<String>,
    pub(super) steps: Vec<StepRecord>,
    pub(super) cautions: Vec<String>,
}

/// What stands below every record.
const NO_CONFORMITY: &str = "What was measured on this day by this program, under these files. It is no certificate of \
any standard and replaces no inspection: who answers for the rig decides.";

impl Record {
    /// Works out the verdict.
    pub(super) fn judge(&mut self) {
        let items = || self.steps.iter().flat_map(|step| &step.items);
        let wrong = items().any(|item| matches!(item.found, Found::Fail | Found::NotShown));
        let nothing = items().next().is_none();
        self.verdict = if wrong || nothing || self.broken_off.is_some() {
            Verdict::NotReady
        } else if self.left_out.is_empty() {
            Verdict::Ready
        } else {
            Verdict::Part
        };
    }

    /// What stands against READY, each with how to mend it.
    fn reasons(&self) -> Vec<(String, Option<String>)> {
        let mut reasons = Vec::new();
        for step in &self.steps {
            for item in &step.items {
                let words = match item.found {
                    Found::Fail => format!("{}: {}: {}", step.step, item.what, item.says),
                    Found::NotShown => {
                        format!("{}: {}: not shown: {}", step.step, item.what, item.says)
                    }
                    Found::Pass | Found::Told => continue,
                };
                reasons.push((words, item.mend.clone()));
            }
        }
        if let Some(why) = &self.broken_off {
            let mend = "begin anew when everybody is ready".to_owned();
            reasons.push((format!("the check was broken off: {why}"), Some(mend)));
        }
        reasons
    }

    /// The verdict in a line.
    pub(super) fn headline(&self) -> String {
        let rig = &self.rig;
        match self.verdict {
            Verdict::Ready => format!("READY: rig \"{rig}\""),
            Verdict::Part => format!(
                "IN PART: what was asked for of rig \"{rig}\" is right; left out: {}. This does not make it ready",
                self.left_out.join(", ")
            ),
            Verdict::NotReady => format!("NOT READY: rig \"{rig}\""),
        }
    }

    /// The record as a page for people.
    pub(super) fn text(&self) -> String {
        let mut page = String::new();
        let program = format!("Daily check by {}", self.program);
        fill(&mut page, "", "", &program);
        fill(
            &mut page,
            "",
            "",
            &format!("rig \"{}\" ({})", self.rig, self.rig_file),
        );
        fill(&mut page, "", "", &format!("operator {}", self.operator));
        fill(
            &mut page,
            "",
            "",
            &format!("{} to {}", self.began, self.ended),
        );
        page.push('\n');
        fill(&mut page, "", "", &self.headline());
        for (reason, mend) in self.reasons() {
            fill(&mut page, "  - ", "    ", &reason);
            if let Some(mend) = mend {
                fill(&mut page, "    mend: ", "    ", &mend);
            }
        }
        for step in &self.steps {
            page.push('\n');
            fill(&mut page, "", "", step.step);
            for item in &step.items {
                let first = format!("  {:9}  ", item.found.word());
                let text = format!("{}: {}", item.what, item.says);
                fill(&mut page, &first, &" ".repeat(13), &text);
            }
        }
        page.push('\n');
        for caution in &self.cautions {
            fill(&mut page, "", "", caution);
        }
        fill(&mut page, "", "", NO_CONFORMITY);
        page
    }

    /// The record for programs.
    ///
    /// # Errors
    /// In words; none is known.
    pub(super) fn json(&self) -> Result<String, String> {
        serde_json::to_string_pretty(self).map_err(|error| error.to_string())
    }
}

/// Adds a paragraph, broken between words.
fn fill(page: &mut String, first: &str, more: &str, text: &str) {
    let mut row = first.to_owned();
    let mut empty = true;
    for word in text.split(' ') {
        if !empty && row.chars().count() + 1 + word.chars().count() > COLUMNS {
            page.push_str(&row);
            page.push('\n');
            row = more.to_owned();
            empty = true;
        }
        if !empty {
            row.push(' ');
        }
        row.push_str(word);
        empty = false;
    }
    page.push_str(row.trim_end());
    page.push('\n');
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    /// All of it right.
    pub(in super::super) fn record() -> Record {
        let moment = "2026-11-28 18:30:00 UTC".to_owned();
        Record {
            program: "stillhand".to_owned(),
            version: 1,
            rig: "hall".to_owned(),
            rig_file: "hall.toml".to_owned(),
            operator: "viola".to_owned(),
            began: moment.clone(),
            ended: moment,
            verdict: Verdict::NotReady,
            left_out: Vec::new(),
            broken_off: None,
            steps: vec![StepRecord {
                step: "stop",
                items: vec![
                    Item::told("limits", "its own are higher"),
                    Item::pass("pan, plus", "in time ".repeat(20)),
                ],
            }],
            cautions: vec!["Keep people clear.".to_owned()],
        }
    }

    fn judged(change: impl FnOnce(&mut Record)) -> Record {
        let mut record = record();
        change(&mut record);
        record.judge();
        record
    }

    #[test]
    fn ready_is_only_what_was_shown_whole_and_right() {
        let verdict = |change: &dyn Fn(&mut Record)| judged(change).verdict;
        assert_eq!(verdict(&|_| {}), Verdict::Ready);
        assert_eq!(
            verdict(&|r| r.left_out.push("travel".to_owned())),
            Verdict::Part
        );
        let with = |r: &mut Record, item| r.steps[0].items.push(item);
        let fail = || Item::fail("tilt", "too long", "look at it");
        let skipped = || Item::not_shown("tilt", "skipped", "say yes");
        assert_eq!(verdict(&|r| with(r, fail())), Verdict::NotReady);
        assert_eq!(verdict(&|r| with(r, skipped())), Verdict::NotReady);
        assert_eq!(
            verdict(&|r| r.broken_off = Some("STOP".to_owned())),
            Verdict::NotReady
        );
        assert_eq!(
            verdict(&|r| r.steps.clear()),
            Verdict::NotReady,
            "nothing was shown"
        );
        let part = |r: &mut Record| {
            r.left_out.push("travel".to_owned());
            with(r, fail());
        };
        assert_eq!(verdict(&part), Verdict::NotReady, "a part that is wrong");
    }

    #[test]
    fn the_page_says_every_reason_and_how_to_mend_it_and_fits_a_terminal() {
        let record = judged(|r| {
            r.steps[0]
                .items
                .push(Item::fail("tilt", "too long", "soften `stop`"));
            r.broken_off = Some("a stick was pushed".to_owned());
        });
        let page = record.text();
        assert!(
            page.lines().all(|line| line.chars().count() <= COLUMNS),
            "{page}"
        );
        let head: Vec<&str> = page.lines().skip(5).take(5).collect();
        assert_eq!(
            head,
            [
                "NOT READY: rig \"hall\"",
                "  - stop: tilt: too long",
                "    mend: soften `stop`",
                "  - the check was broken off: a stick was pushed",
                "    mend: begin anew when everybody is ready",
            ]
        );
        assert!(
            page.contains("\n  pass       pan, plus: in time in time"),
            "{page}"
        );
        assert!(page.contains("\n             in time in time"), "{page}");
        let ready = judged(|_| {}).text();
        assert!(ready.contains("\nREADY: rig \"hall\"\n"), "{ready}");
    }
}
