//! What each event of a mischief does to a bench rig.

use super::Bench;
use crate::link::mischief::Event;
use stillhand_engine::time::Time;
use stillhand_rig::{Inputs, Rig};

impl Bench {
    /// Does what is due, and looks for a lost reference.
    pub(super) fn misbehave(&mut self, at: Time) {
        if self.rig.is_set_up() {
            self.trouble.begin(at);
        }
        while let Some(event) = self.trouble.due(at) {
            self.happen(event, at);
        }
        let still = self.rig.inputs().power && self.at_rest();
        if self.trouble.finds_reference(at, still) {
            for (place, plant) in self.plants.iter().enumerate() {
                // At rest it can't be refused. The cast is the counter's wrap.
                let _ = self.rig.set_reference(place, plant.counts() as i32);
            }
        }
    }

    pub(super) fn happen(&mut self, event: Event, at: Time) {
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
