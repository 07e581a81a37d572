//! Seeded random messages for the tests.
#![allow(dead_code, reason = "each test file uses a part of this")]

use stillhand_wire::heapless::{String, Vec};
use stillhand_wire::messages::{
    AxisHello, AxisSetup, AxisTelemetry, FromRig, MAX_AXES, NotReferenced, Ramp, Reference,
    RigHello, Setup, Standstill, Telemetry, ToRig, Unit, Why,
};

/// SplitMix64 (Steele, Lea & Flood 2014, constants from memory): small, seeded, good enough for tests.
pub struct Random(pub u64);

impl Random {
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    pub fn below(&mut self, n: u64) -> u64 {
        self.next() % n
    }

    pub fn coin(&mut self) -> bool {
        self.below(2) == 1
    }

    /// Any u32, with all magnitudes equally likely, and the edges often.
    pub fn u32(&mut self) -> u32 {
        match self.below(8) {
            0 => 0,
            1 => u32::MAX,
            _ => (self.next() as u32) >> self.below(32),
        }
    }

    pub fn i32(&mut self) -> i32 {
        match self.below(8) {
            0 => i32::MIN,
            1 => i32::MAX,
            _ => (self.next() as i32) >> self.below(32),
        }
    }

    fn text<const N: usize>(&mut self) -> String<N> {
        let mut text = String::new();
        for _ in 0..self.below(N as u64 + 1) {
            let c = ['a', 'Z', '7', '-', 'é', '\0', '\n', '𝄞'][self.below(8) as usize];
            let _ = text.push(c);
        }
        text
    }

    fn list<T>(&mut self, mut item: impl FnMut(&mut Self) -> T) -> Vec<T, MAX_AXES> {
        let n = self.below(MAX_AXES as u64 + 1);
        (0..n).map(|_| item(self)).collect()
    }

    fn ramp(&mut self) -> Ramp {
        Ramp {
            accel: self.u32(),
            jerk: self.u32(),
        }
    }

    fn setup(&mut self) -> Setup {
        Setup {
            session: self.u32(),
            watchdog_ms: self.u32() as u16,
            axes: self.list(|r| AxisSetup {
                travel: r.coin().then(|| (r.i32(), r.i32())),
                stop_plus: r.ramp(),
                stop_minus: r.ramp(),
            }),
        }
    }

    pub fn any_to_rig(&mut self) -> ToRig {
        match self.below(5) {
            0 => ToRig::Hello {
                version: self.next() as u8,
                session: self.u32(),
            },
            1 => ToRig::Setup(self.setup()),
            2 => ToRig::Reference(Reference {
                session: self.u32(),
                number: self.u32(),
                deadline_us: self.u32(),
                axis: self.next() as u8,
                position: self.i32(),
                again: self.coin(),
            }),
            3 => ToRig::Standstill(Standstill {
                session: self.u32(),
                number: self.u32(),
                deadline_us: self.u32(),
                lower: self.next() as u8,
            }),
            _ => ToRig::Velocity {
                session: self.u32(),
                seq: self.u32(),
                deadline_us: self.u32(),
                velocity: self.list(Self::i32),
            },
        }
    }

    fn axis_hello(&mut self) -> AxisHello {
        AxisHello {
            name: self.text(),
            counts: self.u32(),
            per_units: self.u32(),
            unit: [Unit::Deg, Unit::Mm][self.below(2) as usize],
            max_speed: self.u32(),
            max_accel: self.u32(),
            max_jerk: self.u32(),
            own_ramps: self.coin(),
            referenced: self.coin(),
            position: self.i32(),
            velocity: self.i32(),
        }
    }

    fn telemetry(&mut self) -> Telemetry {
        Telemetry {
            session: self.u32(),
            clock_us: self.u32(),
            applied: self.u32(),
            accepted: self.u32(),
            axes: self.list(|r| AxisTelemetry {
                at_applied: r.i32(),
                position: r.i32(),
                velocity: r.i32(),
            }),
            power: self.coin(),
            stop_input: self.coin(),
            energised: self.coin(),
            brakes: self.next() as u8,
            faults: self.u32() as u16,
            held: self.next() as u8,
            at_end: self.next() as u8,
            referenced: self.next() as u8,
            supply_mv: self.coin().then(|| self.u32() as u16),
            drive_c: self.coin().then(|| self.next() as i8),
            frames_refused: self.u32(),
        }
    }

    pub fn any_from_rig(&mut self) -> FromRig {
        match self.below(6) {
            0 => FromRig::Hello(RigHello {
                version: self.next() as u8,
                session: self.u32(),
                rig_id: self.text(),
                boot_id: self.u32(),
                clock_us: self.u32(),
                axes: self.list(Self::axis_hello),
            }),
            1 => FromRig::Ack {
                setup: self.setup(),
            },
            2 => FromRig::Refused {
                session: self.u32(),
                why: WHYS[self.below(WHYS.len() as u64) as usize],
            },
            3 => FromRig::Referenced {
                session: self.u32(),
                number: self.u32(),
                refused: self.coin().then(|| NOT_REFERENCED[self.below(4) as usize]),
            },
            4 => FromRig::Standstill {
                session: self.u32(),
                number: self.u32(),
                can: self.next() as u8,
                lowered: self.next() as u8,
            },
            _ => FromRig::Telemetry(self.telemetry()),
        }
    }
}

const NOT_REFERENCED: [NotReferenced; 4] = [
    NotReferenced::NoAxis,
    NotReferenced::NotAtRest,
    NotReferenced::Already,
    NotReferenced::OutsideTravel,
];

const WHYS: [Why; 10] = [
    Why::Version,
    Why::WrongSession,
    Why::OldSession,
    Why::NotAtRest,
    Why::AxisCount,
    Why::BadTravel,
    Why::BadRamp,
    Why::BadWatchdog,
    Why::AlreadySet,
    Why::PowerOff,
];
