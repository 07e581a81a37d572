//! What the hand is asked to do, and how far it got, on a terminal.

use super::super::block::Block;
use super::signed;
use crate::shell::pad::PresentPad;
use crate::shell::pad::trim::measure::{Course, Phase};
use std::io::IsTerminal;
use stillhand_engine::input::Control;

/// Cells of the bar of progress, and of a stick.
const PROGRESS: usize = 40;
const BAR: usize = 21;

/// Tells what to do: lines that are rewritten in place, or one line for each part where there is no
/// terminal.
pub(super) struct Guide {
    live: bool,
    block: Block,
    said: String,
    phase: Option<Phase>,
}

impl Guide {
    pub(super) fn new() -> Guide {
        Guide {
            live: std::io::stderr().is_terminal(),
            block: Block::default(),
            said: String::new(),
            phase: None,
        }
    }

    /// Says something, unless that was the last thing said.
    pub(super) fn say(&mut self, text: &str) {
        if self.said != text {
            self.clear();
            eprintln!("{text}");
            text.clone_into(&mut self.said);
        }
    }

    /// Shows how the course stands.
    pub(super) fn show(&mut self, course: &Course, pad: &PresentPad) {
        let phase = course.phase();
        if !self.live {
            if let Some(phase) = phase.filter(|_| phase != self.phase) {
                self.say(&format!("{}: {}", headline(phase), phase.asks()));
            }
            self.phase = phase;
            return;
        }
        let lines = lines(course, pad);
        if lines.is_empty() {
            // It is over: what it came to stands where the guide was.
            return self.clear();
        }
        self.block.show(&lines);
    }

    /// Takes it off the screen.
    pub(super) fn clear(&mut self) {
        self.block.clear();
    }
}

fn headline(phase: Phase) -> String {
    let number = 1 + Phase::ALL.iter().position(|p| *p == phase).unwrap_or(0);
    format!("{number} of {}, {}", Phase::ALL.len(), phase.name())
}

/// The lines for a terminal, at most 79 columns wide.
fn lines(course: &Course, pad: &PresentPad) -> Vec<String> {
    let Some(phase) = course.phase() else {
        return Vec::new();
    };
    let (done, words) = course.progress();
    let full = (done * PROGRESS as f64).round() as usize;
    let progress = format!("[{}{}]", "=".repeat(full), " ".repeat(PROGRESS - full));
    let row = |left, right| {
        let side = |control: Control| {
            let read = course.reading(control);
            let figure = read.map_or("-".to_owned(), |x| signed(x, 1));
            format!("{} {} {figure:>8}", control.name(), bar(control, read))
        };
        format!("{}    {}", side(left), side(right))
    };
    let mut name: String = pad.name.replace(char::is_control, "?");
    if let Some((cut, _)) = name.char_indices().nth(30) {
        name.truncate(cut);
    }
    vec![
        format!("{}   {name}", headline(phase)),
        phase.asks().to_owned(),
        format!("{progress} {words}"),
        row(Control::Lx, Control::Rx),
        row(Control::Ly, Control::Ry),
        row(Control::Lt, Control::Rt),
        "`start` goes on to the next part; Ctrl-C ends it, and nothing is kept".to_owned(),
    ]
}

/// Where a control is: `[-----|--o--]`, a trigger from its left end.
fn bar(control: Control, read: Option<f64>) -> String {
    let is_trigger = control.other_direction().is_none();
    let mut cells = ['-'; BAR];
    if !is_trigger {
        cells[BAR / 2] = '|';
    }
    if let Some(x) = read {
        let share = if is_trigger { x } else { (x + 1.0) / 2.0 };
        let place = (share.clamp(0.0, 1.0) * (BAR - 1) as f64).round() as usize;
        cells[place] = 'o';
    }
    format!("[{}]", cells.iter().collect::<String>())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shell::pad::device::Bus;
    use stillhand_engine::input::{PadBus, PadEvent, PadId};
    use stillhand_engine::time::Time;

    #[test]
    fn every_part_fits_a_terminal() {
        let pad = PresentPad {
            pad: PadId(0),
            id: "usb-1".into(),
            name: "N\u{1b}".repeat(90),
            bus: Bus::Usb,
            node: "/dev/input/event1".into(),
            drives: true,
            trimmed: false,
            life: PadBus::Usb,
        };
        let mut course = Course::new(Time::default());
        let press = PadEvent::Pressed(stillhand_engine::input::Button::Start, true);
        course.hear(Time(1), PadEvent::Moved(Control::Lx, -1.0));
        course.hear(Time(1), PadEvent::Moved(Control::Rt, 1.0));
        course.hear(Time(1), PadEvent::Moved(Control::Ly, -0.0004));
        for s in 2..=6 {
            let shown = lines(&course, &pad);
            assert_eq!(shown.len(), 7);
            for line in &shown {
                assert!(line.chars().count() <= 79, "{line}");
                assert!(!line.contains(char::is_control), "{line:?}");
            }
            assert!(
                shown[3].starts_with("lx [o---------|----------] -100.0 %"),
                "{shown:?}"
            );
            assert!(shown[4].contains("o----------]   +0.0 %"), "{shown:?}");
            assert!(
                shown[5].ends_with("rt [--------------------o] +100.0 %"),
                "{shown:?}"
            );
            course.hear(Time(s * 2_000_000_000), press);
        }
        assert!(lines(&course, &pad).is_empty());
    }
}
