//! The readers of files: any text is taken or refused in words, with each problem in a place of the text.

#![allow(dead_code)] // Each user holds its own part.

use stillhand::link::mischief::Mischief;
use stillhand::profile::{Kind, Problems, Source, load_operator, load_quiet, load_rig, load_trim};
use stillhand::shell::lines::ScriptProblems;
use stillhand::shell::pad::script::{Action, Script};

/// Reads a text as each kind of profile and as the kind it claims, and holds every problem against the
/// text. True if it is a good one of any kind.
pub fn profile(text: &str) -> bool {
    let source = Source::new("any.toml", text);
    let rig = load_rig(&source).map(drop);
    let operator = load_operator(&source).map(drop);
    let quiet = load_quiet(&source).map(drop);
    let trim = load_trim(&source).map(drop);
    let good = rig.is_ok() || operator.is_ok() || quiet.is_ok() || trim.is_ok();
    let kind = Kind::of(&source).map(drop);
    let all = [rig, operator, quiet, trim, kind].into_iter();
    for problems in all.filter_map(Result::err) {
        inside(&problems, text);
    }
    good
}

fn inside(problems: &Problems, text: &str) {
    assert!(!problems.list().is_empty());
    for problem in problems.list() {
        let places = problem
            .span
            .iter()
            .chain(problem.also.iter().map(|place| &place.span));
        for span in places {
            assert!(text.get(span.clone()).is_some(), "{problem:?}");
        }
        assert!(
            !problem.message.is_empty() && !problem.mend.is_empty(),
            "{problem:?}"
        );
        assert!(!problem.allowed.is_empty(), "{problem:?}");
    }
    let shown = problems.render(false);
    let controls = |c: char| c.is_control() && c != '\n';
    assert!(!shown.is_empty() && !shown.contains(controls), "{shown:?}");
    let rows = problems.rows();
    assert_eq!(rows.len(), problems.list().len());
    let lines: Vec<&str> = text.split('\n').collect();
    for (row, problem) in rows.iter().zip(problems.list()) {
        assert_eq!(row.line.is_some(), problem.span.is_some(), "{row:?}");
        let (Some(line), Some(column)) = (row.line, row.column) else {
            continue;
        };
        assert!((1..=lines.len()).contains(&line), "{row:?}");
        // One behind the last character is where something is missing.
        let most = lines[line - 1].chars().count() + 1;
        assert!((1..=most).contains(&column), "{row:?}");
    }
    assert!(problems.list().len() <= 1000 && problems.count() >= problems.list().len());
}

/// Reads a text as a pad script and as the bench rig's script of troubles. True if it is a good pad script.
pub fn script(text: &str) -> bool {
    match Script::parse(text) {
        Ok(script) => plays(&script),
        Err(problems) => on_its_line(&problems, text),
    }
    if let Err(problems) = Mischief::parse("any", text, &["pan", "tilt", "slide"]) {
        on_its_line(&problems, text);
    }
    Script::parse(text).is_ok()
}

fn plays(script: &Script) {
    assert!(!script.events().is_empty());
    let mut now = stillhand_engine::time::Span::ZERO;
    for (at, action) in script.events() {
        assert!(*at >= now, "time goes backwards");
        now = *at;
        if let Action::Move(_, value) = action {
            assert!((-1.0..=1.0).contains(value), "{value}");
        }
    }
    assert_eq!(script.length(), now);
}

fn on_its_line(problems: &ScriptProblems, text: &str) {
    // The readers take a mark of the byte order for none of the text.
    let lines: Vec<&str> = text.trim_start_matches('\u{feff}').lines().collect();
    assert!((1..=101).contains(&problems.list().len()));
    for problem in problems.list() {
        assert!(!problem.message.is_empty() && !problem.found.is_empty());
        assert!(!problem.allowed.is_empty() && !problem.mend.is_empty());
        if problem.line == 0 {
            assert_eq!((problem.column, problem.width), (0, 0), "{problem:?}");
            continue;
        }
        let line = lines.get(problem.line - 1);
        let line = line.unwrap_or_else(|| panic!("no such line: {problem:?}"));
        let end = problem.column - 1 + problem.width;
        assert!(problem.column >= 1 && problem.width >= 1, "{problem:?}");
        assert!(end <= line.chars().count(), "{problem:?}");
    }
    let shown = problems.to_string();
    assert!(
        !shown.contains(|c: char| c.is_control() && c != '\n'),
        "{shown:?}"
    );
}
