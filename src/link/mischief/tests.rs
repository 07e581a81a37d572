use super::*;

const AXES: [&str; 3] = ["pan", "tilt", "slide"];

fn parse(text: &str) -> Result<Mischief, ScriptProblems> {
    Mischief::parse("mischief", text, &AXES)
}

#[test]
fn every_event_is_read() {
    let text = "# all of them\n\
        0 REBOOT\n0 REBOOT REFERENCE\n1 POWER OFF\n1.25 POWER ON # back\n2 FAULT 257\n2 FAULT 0x5\n\
        2 FAULT CLEAR\n3 STOPINPUT ON\n3 STOPINPUT OFF\n4 TELEMETRY PERIOD 100\n4 TELEMETRY LOSE 30\n\
        4 TELEMETRY MUTE\n4 TELEMETRY SPEAK\n5 RAMPS 25\n6 SUPPLY 21.5\n6 DRIVE -7\n\
        7 SLIP slide -40\n7 WATCHDOG 300\n7 ENCODER ON\n8 DEAF\n9 HEAR\n";
    let events: Vec<Event> = parse(text)
        .expect("good")
        .events
        .iter()
        .map(|(_, event)| *event)
        .collect();
    assert_eq!(
        events,
        [
            Event::Reboot {
                finds_reference: false
            },
            Event::Reboot {
                finds_reference: true
            },
            Event::Power(false),
            Event::Power(true),
            Event::Fault(257),
            Event::Fault(5),
            Event::Fault(0),
            Event::StopInput(true),
            Event::StopInput(false),
            Event::TelemetryPeriod(100),
            Event::TelemetryLose(30),
            Event::TelemetryMute(true),
            Event::TelemetryMute(false),
            Event::Ramps(0.25),
            Event::Supply(21_500),
            Event::Drive(-7),
            Event::Slip {
                axis: 2,
                counts: -40
            },
            Event::Watchdog(300),
            Event::Encoder(true),
            Event::Deaf(true),
            Event::Deaf(false),
        ]
    );
    let times = parse("1.25 DEAF\n7.29 HEAR").expect("good").events;
    assert_eq!(times[0].0, Span::from_millis(1250));
    assert_eq!(times[1].0, Span::from_millis(7290));
}

#[test]
fn every_problem_is_shown_with_its_line_and_a_caret() {
    let text = "0.5 POWR OFF\n\
        1.0 POWER AWAY\n\
        1.0 POWER\n\
        0.9 DEAF\n\
        x DEAF\n\
        2.0\n\
        2.0 DEAF 1\n\
        2.0 FAULT 0\n\
        2.0 FAULT 65536\n\
        2.0 FAULT 0x+5\n\
        2.0 TELEMETRY PERIOD\n\
        2.0 TELEMETRY PERIOD nan\n\
        2.0 TELEMETRY LOSE 101 # percent\n\
        2.0 RAMPS 0\n\
        2.0 RAMPS nan\n\
        2.0 SLIP slid 4\n\
        2.0 SLIP slide 4.5\n\
        2.0 REBOOT LATER\n\
        2.0 SUPPLY -1";
    let shown = parse(text).expect_err("all bad").to_string();
    let expected = include_str!("problems.txt");
    assert_eq!(shown, expected.trim_end(), "\n--- shown:\n{shown}\n---");
}

#[test]
fn an_event_for_now_has_no_time() {
    let mut mischief = Mischief::default();
    mischief.add_now("TELEMETRY MUTE", &AXES).expect("good");
    mischief.add_now("SUPPLY 12", &AXES).expect("good");
    assert_eq!(
        mischief.now,
        [Event::TelemetryMute(true), Event::Supply(12_000)]
    );
    for bad in ["", "# nothing", "1.0 DEAF", "DEAF 1", "\u{1b}[2J"] {
        let problems = mischief.add_now(bad, &AXES).expect_err(bad).to_string();
        assert!(problems.starts_with("--mischief-now"), "{problems}");
        assert!(!problems.contains('\u{1b}'));
    }
    assert_eq!(mischief.now.len(), 2);
}

#[test]
fn empty_and_foreign_files_are_refused() {
    for text in ["", "# only a remark\n", "\u{feff}\r\n"] {
        let problems = parse(text).expect_err("empty");
        assert_eq!(problems.list()[0].message, "the script is empty");
    }
    let many = parse(&"x y z\n".repeat(5000)).expect_err("foreign");
    assert!(many.list().len() <= 100);
    assert!(Mischief::load(Path::new("/nowhere/a.mischief"), &AXES).is_err());
}

#[test]
fn an_event_written_out_is_read_as_itself() {
    let text = "0 REBOOT\n0 REBOOT REFERENCE\n1 POWER OFF\n1 POWER ON\n2 FAULT 257\n2 FAULT CLEAR\n\
        3 STOPINPUT ON\n3 STOPINPUT OFF\n4 TELEMETRY PERIOD 100\n4 TELEMETRY LOSE 30\n\
        4 TELEMETRY LOSE 0\n4 TELEMETRY MUTE\n4 TELEMETRY SPEAK\n5 RAMPS 25\n5 RAMPS 57\n5 RAMPS 100\n\
        6 SUPPLY 21.5\n6 SUPPLY 0.007\n6 DRIVE -7\n7 SLIP slide -40\n8 DEAF\n9 HEAR\n";
    for (_, event) in parse(text).expect("good").events {
        let mut again = Mischief::default();
        again.add_now(&event.words(&AXES), &AXES).expect("good");
        assert_eq!(again.now, [event]);
    }
}
