//! The far end of the line: rig and mechanics, a millisecond at a time.

use super::arrivals::arrival;
use super::judge::Judge;
use super::line::Line;
use crate::link::bench::BenchOptions;
use crate::link::bench::machine::Machine;
use crate::link::mischief::Event;
use crate::link::plant::{EVENED_MS, Plant};
use stillhand_engine::MAX_AXES;
use stillhand_engine::rig::Rig;
use stillhand_engine::time::{Span, Time};
use stillhand_laws as laws;

/// The mechanics and the rig end live in steps of a millisecond.
const STEP: Span = Span::from_millis(1);

/// Any number does: a world has one rig.
const BOOT_ID: u32 = 77;

/// The rig's end.
#[derive(Debug)]
pub(super) struct FarEnd {
    machine: Machine,
    /// Up to where it has lived.
    lived: Time,
    /// Counts per unit, with the sign of the picture's sense.
    scales: Vec<f64>,
}

impl FarEnd {
    /// A rig just switched on at time 0. `rig.delay` is set to what its mechanics and the line really
    /// have.
    ///
    /// # Errors
    /// In words: a name too long for the wire.
    pub fn new(rig: &mut Rig, bench: &BenchOptions, line_delay: Span) -> Result<FarEnd, String> {
        // Mechanics that suit the line: a frame's step is evened out over a frame. One that arrives
        // within a millisecond waits for its end.
        let evened_ms = (rig.frame_period.0 / STEP.0) as usize;
        let evened_ms = evened_ms.max(EVENED_MS);
        let delay_ms = Plant::delay_ms(evened_ms) as u64 + line_delay.0.div_ceil(STEP.0) + 1;
        rig.delay = Span::from_millis(delay_ms);
        Ok(FarEnd {
            machine: Machine::new(rig, bench, BOOT_ID, evened_ms, Time(0))?,
            lived: Time(0),
            scales: scales(rig),
        })
    }

    /// The true position of an axis, in the picture's sense and the axis's unit.
    pub fn position(&self, axis: usize) -> f64 {
        self.machine.plants()[axis].position() / self.scales[axis]
    }

    /// The true speed of an axis, in the picture's sense, units/s.
    pub fn speed(&self, axis: usize) -> f64 {
        self.machine.plants()[axis].speed() / self.scales[axis]
    }

    /// The true speed of an axis as its motor goes, units/s.
    pub fn motor_speed(&self, axis: usize) -> f64 {
        self.machine.plants()[axis].speed() / self.scales[axis].abs()
    }

    /// Whether the motor of an axis holds with less than its full current.
    pub fn is_lowered(&self, axis: usize) -> bool {
        self.machine.is_lowered(axis)
    }

    /// Another file of the rig is in force: the picture may be another way round.
    pub fn read_by(&mut self, rig: &Rig) {
        self.scales = scales(rig);
    }

    /// Lets something go wrong, or right again, and tells the judge what of it is an input.
    pub fn happen(&mut self, event: Event, judge: &mut Judge) {
        judge.rig_event(self.lived, event);
        self.machine.happen(event, self.lived);
    }

    /// Lives in milliseconds until `end`, and takes what arrives in between.
    pub fn live_until(&mut self, end: Time, line: &mut Line, judge: &mut Judge) {
        while self.lived + STEP <= end {
            self.lived = self.lived + STEP;
            let at = self.lived;
            if self.machine.is_deaf() {
                judge.frames_lost(at, Span::ZERO);
            }
            while !self.machine.is_deaf()
                && let Some(arrived) = line.at_rig(at)
            {
                let before = self.machine.accepted();
                let mut out = |frame: &[u8]| line.say(at, frame);
                let renumbered = self.machine.hear(&arrived.bytes, at, &mut out);
                let taken = self.machine.accepted() != before;
                let clock = self.machine.micros(at);
                if let Some(arrival) = arrival(&arrived.bytes, arrived.handling, clock, taken) {
                    judge.arrival(at, &arrival);
                }
                if let Some(axis) = renumbered {
                    judge.renumbered(at, axis);
                }
            }
            if self.machine.misbehave(at) {
                judge.referenced(at);
            }
            self.machine.step(at, &mut |frame| line.say(at, frame));
            let mut truth = [laws::PlantAxis::default(); MAX_AXES];
            for (axis, truth) in truth.iter_mut().enumerate().take(self.scales.len()) {
                *truth = laws::PlantAxis {
                    position: self.position(axis),
                    speed: self.speed(axis),
                };
            }
            judge.plant(at, &truth[..self.scales.len()]);
        }
    }
}

fn scales(rig: &Rig) -> Vec<f64> {
    let axes = rig.axes.iter();
    axes.map(|axis| axis.counts_per_unit * axis.sense.sign())
        .collect()
}
