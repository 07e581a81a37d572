use super::*;

fn problems(text: &str) -> Vec<ScriptProblem> {
    match Script::parse(text) {
        Ok(script) => panic!("accepted: {script:?}"),
        Err(problems) => problems.list().to_vec(),
    }
}

#[test]
fn every_control_is_read() {
    let text = "\u{feff}# all of them\r\n\
        0 ABS_X -1\r\n0 ABS_Y 1\n0\tABS_RX\t0.5 # half\n0 ABS_RY -0.25\n\
        0.5 ABS_Z 1\n0.5 ABS_RZ 0\n0.5 ABS_HAT2Y 0.5\n0.5 ABS_HAT2X 0.75\n\n\
        0.29 BTN_SOUTH 1\n";
    let list = problems(text);
    assert_eq!(list.len(), 1, "{list:?}");
    assert_eq!((list[0].line, list[0].column), (11, 1));

    let script = Script::parse(&text.replace("0.29", "7.29")).expect("now in order");
    let at = |ms| Span::from_millis(ms);
    assert_eq!(
        script.events(),
        [
            (at(0), Action::Move(Control::Lx, -1.0)),
            (at(0), Action::Move(Control::Ly, 1.0)),
            (at(0), Action::Move(Control::Rx, 0.5)),
            (at(0), Action::Move(Control::Ry, -0.25)),
            (at(500), Action::Move(Control::Lt, 1.0)),
            (at(500), Action::Move(Control::Rt, 0.0)),
            (at(500), Action::Move(Control::Lt, 0.5)),
            (at(500), Action::Move(Control::Rt, 0.75)),
            (at(7290), Action::Press(Button::South, true)),
        ]
    );
    assert!(script.starts_plugged());
    assert_eq!(script.length(), at(7290));
}

#[test]
fn every_name_is_its_own_control() {
    for button in Button::ALL {
        let name = button.name().to_uppercase().replace('-', "_");
        let script = Script::parse(&format!("1 BTN_{name} 1")).expect("a button of the table");
        assert_eq!(
            script.events(),
            [(Span::from_millis(1000), Action::Press(button, true))]
        );
    }
}

#[test]
fn every_problem_is_shown_with_its_line_and_a_caret() {
    let text = "0.5 ABS_QX 0.75\n\
        1.0 ABS_RX 1.25\n\
        0.9 ABS_RX 0\n\
        x ABS_RX 0\n\
        2.0 BTN_EAST 0.5\n\
        2.0 BTN_EAST\n\
        2.0\n\
        2.0 ABS_HAT0Y 0.5 # half a hat\n\
        2.0 ABS_Z nan\n\
        2.0 ABS_Z inf\n\
        2.0 BTN_EAST 1 1\n\
        2.0 UNPLUG\n\
        2.0 ABS_RX 0\n\
        2.0 PLUG 1\n\
        3.0 PLUG\n\
        3.0 PLUG\n\
        nan PLUG\n\
        -1 PLUG\n\
        1e9 PLUG";
    let shown = Script::parse(text).expect_err("all bad").to_string();
    let expected = include_str!("problems.txt");
    assert_eq!(shown, expected.trim_end(), "\n--- shown:\n{shown}\n---");
}

#[test]
fn a_pad_that_is_away_can_only_come() {
    assert_eq!(problems("0 UNPLUG\n1 UNPLUG").len(), 1);
    assert!(
        !Script::parse("1 PLUG\n2 ABS_X 0")
            .expect("good")
            .starts_plugged()
    );
    assert!(
        Script::parse("1 UNPLUG\n2 PLUG")
            .expect("good")
            .starts_plugged()
    );
}

#[test]
fn empty_large_and_foreign_files_are_refused() {
    assert_eq!(problems("")[0].message, "the script is empty");
    assert_eq!(problems("# only a remark\n")[0].line, 0);
    let long = "0 ABS_X 0\n".repeat(MAX_BYTES / 10 + 1);
    assert_eq!(problems(&long)[0].message, "the script is too long");
    let foreign = "\u{1b}[2J\u{7} grün \t ###".repeat(50);
    for problem in problems(&foreign) {
        assert!(!problem.to_string().contains('\u{1b}'));
    }
    assert!(problems(&"x y z\n".repeat(5000)).len() <= 100);
    assert!(Script::load(Path::new("/nowhere/a.pad")).is_err());
    assert!(Script::load(Path::new("/")).is_err());
}

/// Damaged scripts never panic, and a problem's caret always lies within its line.
#[test]
fn damaged_scripts_are_survived() {
    let good = include_str!("../../../../profiles/rehearsal.pad");
    Script::parse(good).unwrap_or_else(|problems| panic!("{problems}"));
    let good: Vec<char> = good.chars().collect();
    let noise: Vec<char> = "09.-+eE#_ \t\n\u{0}é\u{7f}ABS".chars().collect();
    // Knuth's MMIX linear congruential generator, from memory; any would do.
    let mut seed = 7u64;
    let mut next = |below: usize| {
        seed = seed
            .wrapping_mul(6364136223846793005)
            .wrapping_add(1442695040888963407);
        (seed >> 33) as usize % below
    };
    let mut refused = 0;
    for _ in 0..500 {
        let mut text = good.clone();
        for _ in 0..=next(5) {
            let at = next(text.len());
            match next(3) {
                0 => text[at] = noise[next(noise.len())],
                1 => text.insert(at, noise[next(noise.len())]),
                _ => {
                    text.remove(at);
                }
            }
        }
        let text: String = text.into_iter().collect();
        let Err(problems) = Script::parse(&text) else {
            continue;
        };
        refused += 1;
        for problem in problems.list() {
            let line = text
                .lines()
                .nth(problem.line - 1)
                .expect("a line of the text");
            let end = problem.column - 1 + problem.width;
            assert!(end <= line.chars().count(), "{problem}");
        }
    }
    assert!(refused > 100, "the damage was too gentle: {refused}");
}

/// The shipped rehearsal moves as a thumb does, and gives back what it takes.
#[test]
fn the_rehearsal_is_one_a_hand_could_play() {
    let script = Script::parse(include_str!("../../../../profiles/rehearsal.pad")).expect("good");
    assert!(script.starts_plugged());
    assert_eq!(script.length(), Span::from_millis(40_000));
    let mut values = [None::<(Span, f64)>; Control::ALL.len()];
    let mut held = [None::<Span>; Button::ALL.len()];
    let mut presses = Vec::new();
    for (at, action) in script.events() {
        match *action {
            Action::Move(control, value) => {
                let before = values[control as usize].replace((*at, value));
                let (_, before) = before.unwrap_or((Span::ZERO, 0.0));
                assert!((value - before).abs() < 0.2, "{} jumps", control.name());
            }
            Action::Press(button, true) => held[button as usize] = Some(*at),
            Action::Press(button, false) => {
                let down = held[button as usize].take().expect("pressed before");
                presses.push((button, Span(at.0 - down.0)));
            }
            Action::Plug | Action::Unplug => panic!("the rehearsal keeps its pad"),
        }
    }
    assert_eq!(held, [None; Button::ALL.len()], "all released");
    let driven = [Control::Rx, Control::Ry, Control::Lx];
    assert!(driven.map(|c| values[c as usize].map(|(_, v)| v)) == [Some(0.0); 3]);
    let buttons: Vec<Button> = presses.iter().map(|(button, _)| *button).collect();
    assert_eq!(
        buttons,
        [Button::Tr, Button::Tl, Button::East, Button::Start]
    );
    assert!(presses[3].1 >= Span::from_millis(600), "{presses:?}");
}
