//! Law `same`: the same inputs give the same bits in every build and on every processor.
//!
//! A minute of driving with everything in it, reduced to one number. The number is written down
//! here; the test is run in debug, in release, and with the C library's FMA and AVX2 variants off
//! (`GLIBC_TUNABLES`), by `tools/test`.

use stillhand::soak::random;
use stillhand::soak::rigs;

use random::Random;
use stillhand_engine::Engine;
use stillhand_engine::MAX_AXES;
use stillhand_engine::input::{
    AxisReport, Button, Control, Input, Inputs, LinkEvent, PadBus, PadEvent, PadId, RigReport, Tick,
};
use stillhand_engine::output::Outputs;
use stillhand_engine::time::{Span, Time};

/// What the run below came to when it was written down. A deliberate change of the engine's
/// arithmetic changes it; anything else that does is a breach of the law.
const WRITTEN_DOWN: u64 = 0xd445_74f1_d051_330d;

const PAD: PadId = PadId(0);

/// FNV-1a, 64 bit (Fowler, Noll, Vo; the offset and prime of draft-eastlake-fnv).
struct Digest(u64);

impl Digest {
    fn add(&mut self, bits: u64) {
        for byte in bits.to_le_bytes() {
            self.0 = (self.0 ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3);
        }
    }

    fn take(&mut self, outputs: &Outputs) {
        for rig in &outputs.rigs {
            if let Some(frame) = rig.frame {
                self.add(u64::from(frame.seq));
                frame
                    .velocity
                    .iter()
                    .for_each(|v| self.add(u64::from(v.cast_unsigned())));
            }
            for axis in &rig.axes {
                for number in [
                    axis.position,
                    axis.speed,
                    axis.accel,
                    axis.demand,
                    axis.stop_distance,
                ] {
                    self.add(number.to_bits());
                }
            }
        }
    }
}

fn ready(axes: usize) -> Input {
    let mut report = RigReport {
        axes: [AxisReport::default(); MAX_AXES],
    };
    report.axes[..axes]
        .iter_mut()
        .for_each(|axis| axis.referenced = true);
    Input::Link(0, LinkEvent::Ready(report))
}

fn inputs(at: u64, random: &mut Random) -> Vec<Input> {
    let mut inputs = Vec::new();
    if at.is_multiple_of(5) {
        let control = random.pick(&rigs::STICKS);
        let value = random.between(-1.2, 1.2).clamp(-1.0, 1.0);
        let settle = at % 1_500 < 100;
        let value = if settle { 0.0 } else { value };
        inputs.push(Input::Pad(PAD, PadEvent::Moved(control, value)));
    }
    if random.chance(0.002) {
        let button = random.pick(&[Button::Tl, Button::Tr]);
        inputs.push(Input::Pad(PAD, PadEvent::Pressed(button, true)));
        inputs.push(Input::Pad(PAD, PadEvent::Pressed(button, false)));
    }
    inputs
}

#[test]
fn a_minute_of_driving_gives_the_bits_that_were_written_down() {
    let mut random = Random::new(2026);
    let axes = ["pan", "tilt", "slide", "roll"].map(|name| rigs::axis(name, &mut random));
    let rig = rigs::rig(axes.to_vec());
    let operator = rigs::hands(&rig, &mut random);
    let period = Span::from_millis(4);
    let mut engine = Engine::new(std::slice::from_ref(&rig), &operator, period).expect("it fits");
    let mut digest = Digest(0xcbf2_9ce4_8422_2325);
    let mut now = Time(0);
    let plugged = PadEvent::Plugged {
        bus: PadBus::Wired,
        drives: true,
    };
    let mut edges = vec![ready(rig.axes.len()), Input::Pad(PAD, plugged)];
    edges.extend(Control::ALL.map(|c| Input::Pad(PAD, PadEvent::Moved(c, 0.0))));
    let mut moved = false;
    for index in 0..15_000 {
        // Real loops are uneven: up to a tenth of a period early or late.
        now = now + Span(period.0 - 400_000 + (random.unit() * 800_000.0) as u64);
        let outputs = engine.step(
            Tick { index, now },
            Inputs {
                stop: None,
                edges: &edges,
                operator: None,
                rig: None,
                errand: None,
            },
        );
        moved |= outputs.rigs[0].axes[0].speed != 0.0;
        digest.take(outputs);
        edges = inputs(index, &mut random);
    }
    assert!(moved, "nothing moved, so nothing was shown");
    println!("digest {:#018x}", digest.0);
    assert_eq!(
        digest.0, WRITTEN_DOWN,
        "the engine's arithmetic has changed"
    );
}
