//! What goes wrong with rig and line, and when it is put right.

use super::act::Act;
use super::play::Session;
use crate::link::mischief::Event;
use crate::soak::noise::{Noise, Wrong};
use stillhand_engine::rig::Travel;
use stillhand_engine::time::Span;

/// What can go wrong in a world, beyond what may in each.
#[derive(Clone, Copy, Debug)]
pub struct Weather {
    /// Frames are wronged on their way.
    pub noise: bool,
    /// The cable is pulled, the port clogs.
    pub line: bool,
    /// The rig does all that a bench rig does wrong on request.
    pub rig: bool,
}

/// The telemetry's period when nothing is wrong, ms.
const TELEMETRY_MS: u16 = 20;
/// Mechanics that have 1.5 times the strength of the stop set keep all of that, and a twentieth more.
const WEAK_PERCENT: f64 = 70.0;
/// Ends of travel are not to be kept with less than the stop set: only endless axes are so weak.
const FEEBLE_PERCENT: f64 = 20.0;

impl Session {
    /// Puts right what has been wrong for long enough.
    pub(super) fn put_right(&mut self) {
        let now = self.stage.now();
        if let Some((_, act)) = self.right.take_if(|(at, _)| *at <= now) {
            self.act(act);
        }
    }

    /// Something goes wrong, one thing at a time.
    pub(super) fn trouble(&mut self) {
        if self.right.is_some() {
            return;
        }
        let kinds = [
            (self.weather.noise, Session::noise as fn(&mut Session)),
            (self.weather.line, Session::line_trouble),
            (self.weather.rig, Session::odd_rig),
            (true, Session::rig_trouble),
        ];
        let kinds: Vec<_> = kinds.into_iter().filter(|(may, _)| *may).collect();
        let (_, kind) = self.random.pick(&kinds);
        kind(self);
    }

    fn wrong_for(&mut self, seconds: f64, wrong: Act, right: Act) {
        let at = self.stage.now() + Span::from_secs_f64(seconds);
        self.act(wrong);
        self.right = Some((at, right));
    }

    fn noise(&mut self) {
        let noise = Noise {
            wrong: self.random.pick(&Wrong::ALL),
            percent: self.random.scale(1.0, 60.0) as u8,
            seed: self.random.below(1_000_000) as u64,
        };
        let seconds = self.random.between(0.5, 5.0);
        self.wrong_for(seconds, Act::Noise(Some(noise)), Act::Noise(None));
    }

    fn line_trouble(&mut self) {
        match self.random.chance(0.5) {
            true => {
                let seconds = self.random.between(0.05, 1.0);
                self.wrong_for(seconds, Act::Cable(false), Act::Cable(true));
            }
            false => {
                let seconds = self.random.scale(0.005, 0.5);
                self.wrong_for(seconds, Act::Clog(true), Act::Clog(false));
            }
        }
    }

    /// What stops a rig: its power, its stop input, a fault.
    fn rig_trouble(&mut self) {
        let (wrong, right) = match self.random.below(3) {
            0 => (Event::Power(false), Event::Power(true)),
            1 => (Event::StopInput(true), Event::StopInput(false)),
            _ => (Event::Fault(1), Event::Fault(0)),
        };
        let seconds = self.random.between(0.2, 1.5);
        self.wrong_for(seconds, Act::Rig(wrong), Act::Rig(right));
    }

    /// What a rig may do besides.
    fn odd_rig(&mut self) {
        let found = Event::Reboot {
            finds_reference: true,
        };
        let lost = Event::Reboot {
            finds_reference: false,
        };
        let (seconds, wrong, right) = match self.random.below(9) {
            0 => return self.act(Act::Rig(found)),
            // Until somebody starts it again.
            1 => (self.random.between(2.0, 6.0), lost, found),
            2 => {
                let ms = self.random.scale(1.0, 150.0) as u16;
                let slow = Event::TelemetryPeriod(ms);
                (2.0, slow, Event::TelemetryPeriod(TELEMETRY_MS))
            }
            3 => {
                let lose = Event::TelemetryLose(self.random.below(101) as u8);
                (self.random.between(0.1, 2.0), lose, Event::TelemetryLose(0))
            }
            4 => {
                let seconds = self.random.scale(0.02, 1.0);
                (
                    seconds,
                    Event::TelemetryMute(true),
                    Event::TelemetryMute(false),
                )
            }
            5 => {
                let weak = Event::Ramps(self.weak_share());
                (self.random.between(1.0, 6.0), weak, Event::Ramps(1.0))
            }
            6 => return self.slip(),
            7 => {
                let seconds = self.random.scale(0.01, 0.5);
                (seconds, Event::Deaf(true), Event::Deaf(false))
            }
            _ => {
                let low = Event::Supply(self.random.below(30_000) as u16);
                self.act(Act::Rig(low));
                (2.0, Event::Drive(90), Event::Drive(25))
            }
        };
        self.wrong_for(seconds, Act::Rig(wrong), Act::Rig(right));
    }

    /// Whole percents, so that a scene tells the very share.
    fn weak_share(&mut self) -> f64 {
        let mut axes = self.stage.rig().axes.iter();
        let endless = axes.all(|axis| axis.travel == Travel::Continuous);
        let least = if endless {
            FEEBLE_PERCENT
        } else {
            WEAK_PERCENT
        };
        self.random.between(least, 100.0).round() / 100.0
    }

    /// An axis is pushed, by up to a fifth of a second at full speed: inward, since no brake answers a push
    /// over an end.
    fn slip(&mut self) {
        let rig = self.stage.rig();
        let place = self.random.below(rig.axes.len());
        let axis = &rig.axes[place];
        let middle = match axis.travel {
            Travel::Finite(ends) => (ends.low().0 + ends.high().0) / 2.0,
            Travel::Continuous => 0.0,
        };
        let inward = middle - self.stage.outputs().rigs[0].axes[place].position;
        let counts = axis.speed.0 * axis.counts_per_unit * self.random.between(0.0, 0.2);
        let counts = counts.copysign(inward * axis.sense.sign()) as i32;
        self.act(Act::Rig(Event::Slip {
            axis: place,
            counts,
        }));
    }
}
