//! The bench rig without its port: firmware, mechanics and what is wrong with them.
//!
//! It reads no clock. The process behind the pseudo-terminal lives it in real time, a world in virtual
//! time, so that both misbehave in the same way.

use super::lie::Lie;
use super::trouble::Trouble;
use super::{BenchOptions, build};
use crate::link::mischief::Event;
use crate::link::plant::Plant;
use stillhand_engine::rig::Rig as RigFacts;
use stillhand_engine::time::Time;
use stillhand_rig::{Config, Inputs, Rig};
use stillhand_wire::messages::VELOCITY_SCALE;

/// The rig's end and the mechanics behind it.
#[derive(Debug)]
pub(crate) struct Machine {
    rig: Rig,
    config: Config,
    trouble: Trouble,
    plants: Vec<Plant>,
    never_referenced: bool,
    /// It keeps another watchdog than it was told.
    lie: Option<Lie>,
    /// When the rig was switched on, and what its clock read.
    began: Time,
    clock_start_us: u32,
}

impl Machine {
    /// A machine just switched on at `began`, whose mechanics even commands out over `evened_ms`.
    ///
    /// # Errors
    /// In words: a name too long for the wire.
    pub(crate) fn new(
        facts: &RigFacts,
        options: &BenchOptions,
        boot_id: u32,
        evened_ms: usize,
        began: Time,
    ) -> Result<Machine, String> {
        let config = build::config(facts, boot_id, options)?;
        let plants = facts
            .axes
            .iter()
            .map(|axis| Plant::new(axis, build::start(axis, options), evened_ms))
            .collect();
        let mut machine = Machine {
            rig: Rig::new(config.clone(), Inputs::default(), options.clock_start_us),
            config,
            trouble: Trouble::new(options.mischief.clone()),
            plants,
            never_referenced: options.unreferenced,
            lie: None,
            began,
            clock_start_us: options.clock_start_us,
        };
        for event in machine.trouble.now() {
            machine.happen(event, began);
        }
        Ok(machine)
    }

    /// The mechanics, an entry an axis.
    pub(crate) fn plants(&self) -> &[Plant] {
        &self.plants
    }

    /// The port is not read.
    pub(crate) fn is_deaf(&self) -> bool {
        self.trouble.deaf
    }

    /// The rig's clock: microseconds since it was switched on, wrapping.
    pub(crate) fn micros(&self, at: Time) -> u32 {
        self.clock_start_us
            .wrapping_add((at.since(self.began).0 / 1_000) as u32)
    }

    /// How many velocity frames of this session the rig has taken.
    pub(crate) fn accepted(&self) -> u32 {
        self.rig.accepted()
    }

    /// Whether an axis holds with less than its full current.
    pub(crate) fn is_lowered(&self, axis: usize) -> bool {
        self.rig.output(axis).is_some_and(|output| output.lowered)
    }

    /// Neither firmware nor mechanics move.
    pub(crate) fn at_rest(&self) -> bool {
        self.rig.at_rest() && self.plants.iter().all(|p| p.speed() == 0.0)
    }

    /// Takes what the line brought; the axis that was given a reference by it, if one was.
    pub(crate) fn hear(
        &mut self,
        bytes: &[u8],
        at: Time,
        out: &mut impl FnMut(&[u8]),
    ) -> Option<usize> {
        let micros = self.micros(at);
        match &mut self.lie {
            None => self.rig.on_bytes(bytes, micros, out),
            Some(lie) => lie.between(&mut self.rig, bytes, micros, out),
        }
        let (axis, counts) = self.rig.take_reference()?;
        // The mechanics stay; what counts them is another from now on.
        self.plants.get_mut(axis)?.renumber(counts);
        Some(axis)
    }

    /// Does what is due of its script, and looks for a lost reference; says whether it found it.
    pub(crate) fn misbehave(&mut self, at: Time) -> bool {
        if self.rig.is_set_up() {
            self.trouble.begin(at);
        }
        while let Some(event) = self.trouble.due(at) {
            self.happen(event, at);
        }
        let still = self.rig.inputs().power && self.at_rest();
        let found = self.trouble.finds_reference(at, still);
        if found {
            for (place, plant) in self.plants.iter().enumerate() {
                // At rest it can't be refused. The cast is the counter's wrap.
                let _ = self.rig.set_reference(place, plant.counts() as i32);
            }
        }
        found
    }

    /// A millisecond of the firmware and of the mechanics.
    pub(crate) fn step(&mut self, at: Time, out: &mut impl FnMut(&[u8])) {
        let micros = self.micros(at);
        let trouble = &mut self.trouble;
        self.rig.tick(micros, &mut |frame: &[u8]| {
            if trouble.speaks() {
                out(frame);
            }
        });
        let power = self.rig.inputs().power;
        for (place, plant) in self.plants.iter_mut().enumerate() {
            // A motor on less than its full current follows nothing.
            let strong = self.rig.output(place).filter(|output| !output.lowered);
            let rate = strong.map_or(0, |output| output.velocity);
            if power {
                plant.step(f64::from(rate) / f64::from(VELOCITY_SCALE));
            } else {
                plant.cut();
            }
            if let Some(output) = self.rig.output(place).filter(|_| self.trouble.encoder) {
                // Both count modulo 2^32.
                let seen = plant.counts() as i32;
                self.rig.slipped(place, seen.wrapping_sub(output.position));
            }
        }
    }

    /// Lets something go wrong, or right again.
    pub(crate) fn happen(&mut self, event: Event, at: Time) {
        let mut inputs = self.rig.inputs();
        match event {
            Event::Reboot { finds_reference } => self.reboot(finds_reference, at),
            Event::Power(on) => {
                (inputs.power, inputs.energised) = (on, on);
                self.rig.set_inputs(inputs);
                self.trouble.homing = on && !self.never_referenced;
            }
            Event::Fault(bits) => self.rig.set_inputs(Inputs {
                faults: bits,
                ..inputs
            }),
            Event::StopInput(active) => self.rig.set_inputs(Inputs {
                stop_input: active,
                ..inputs
            }),
            Event::Supply(millivolts) => self.rig.set_inputs(Inputs {
                supply_mv: Some(millivolts),
                ..inputs
            }),
            Event::Drive(celsius) => self.rig.set_inputs(Inputs {
                drive_c: Some(celsius),
                ..inputs
            }),
            Event::TelemetryPeriod(ms) => {
                self.config.telemetry_ms = ms;
                self.rig.set_telemetry_ms(ms);
            }
            Event::TelemetryLose(percent) => self.trouble.lose(percent),
            Event::TelemetryMute(mute) => self.trouble.mute(mute),
            Event::Ramps(share) => self.plants.iter_mut().for_each(|p| p.weaken(share)),
            Event::Slip { axis, counts } => {
                self.rig.slipped(axis, counts);
                if let Some(plant) = self.plants.get_mut(axis) {
                    plant.push(counts);
                }
            }
            Event::Watchdog(ms) => self.lie = Some(Lie::new(ms)),
            Event::Encoder(on) => self.trouble.encoder = on,
            Event::Deaf(deaf) => self.trouble.deaf = deaf,
        }
    }

    /// The controller starts anew; the mechanics stay where they are, and it does not know where that is.
    fn reboot(&mut self, finds_reference: bool, at: Time) {
        self.config.boot_id = self.config.boot_id.wrapping_add(1);
        for axis in &mut self.config.axes {
            axis.referenced = false;
        }
        (self.began, self.clock_start_us) = (at, 0);
        self.rig = Rig::new(self.config.clone(), self.rig.inputs(), 0);
        self.trouble.homing = finds_reference && !self.never_referenced;
    }
}
