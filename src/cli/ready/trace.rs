//! What was seen lately of the loop's turns and of the rig's tellings, and what a stop is by them.
//!
//! A telling carries the rig's own clock. The one that was heard with the least delay ties that clock to ours, so
//! that a computer which comes late does not make a stop look late.

use crate::link::convert::{Scale, Unwrapped};
use crate::shell::probe::{Seen, Turn};
use std::collections::VecDeque;
use stillhand_engine::MAX_AXES;
use stillhand_engine::rig::Rig;
use stillhand_engine::time::{Span, Time};
use stillhand_wire::messages::{Telemetry, VELOCITY_SCALE};

/// So much is kept: longer than any stop, its way there and its rest.
const KEPT: Span = Span::from_millis(30_000);
/// An axis rests once its tellings have been the same for so long.
const RESTED_S: f64 = 0.25;
/// A speed is measured over so long.
const WENT: Span = Span::from_millis(400);
/// A speed that differs by less is the same.
const STEADY: f64 = 0.01;
/// What is less apart is the same place: an encoder at rest may tell either of two neighbours.
const SAME_COUNTS: f64 = 1.01;
/// A clock that jumps by more than this is that of a rig that was started again.
const STARTED_ANEW_S: f64 = 1.0;

/// A telling of the rig.
#[derive(Clone, Copy, Debug)]
pub(super) struct Telling {
    /// When it was heard.
    heard: Time,
    /// The rig's clock then, in s since the first telling.
    clock_s: f64,
    /// Where each axis was, in the picture's sense and the axis's unit.
    pub(super) position: [f64; MAX_AXES],
    /// The speed its motor was told to go, likewise.
    pub(super) speed: [f64; MAX_AXES],
    /// Bits of [`stillhand_wire::messages::held`].
    pub(super) held: u8,
}

/// What was seen lately.
#[derive(Debug)]
pub(super) struct Trace {
    rig: Rig,
    scales: Vec<Scale>,
    turns: VecDeque<Turn>,
    told: VecDeque<Telling>,
    clock: Option<(u32, f64)>,
    counters: [Option<Unwrapped>; MAX_AXES],
}

/// How an axis came to rest by the rig's tellings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Rest {
    /// From the moment asked about to the first telling of rest, in s.
    pub(super) seconds: f64,
    /// The way from there to rest, without a sign.
    pub(super) way: f64,
    /// Where it rests.
    pub(super) position: f64,
    /// The longest time between two tellings meanwhile, in s.
    pub(super) gap_s: f64,
}

impl Trace {
    pub(super) fn of(rig: &Rig) -> Trace {
        Trace {
            rig: rig.clone(),
            scales: rig.axes.iter().map(Scale::of).collect(),
            turns: VecDeque::new(),
            told: VecDeque::new(),
            clock: None,
            counters: [None; MAX_AXES],
        }
    }

    /// The rig it is of.
    pub(super) const fn rig(&self) -> &Rig {
        &self.rig
    }

    /// Takes in what was seen since the last time.
    pub(super) fn take(&mut self, seen: impl IntoIterator<Item = Seen>) {
        for one in seen {
            match one {
                Seen::Turn(turn) => self.turns.push_back(turn),
                Seen::Told(heard, told) => self.telling(heard, &told),
                Seen::Tapped(..) => {}
            }
        }
        let Some(now) = self.turns.back().map(|turn| turn.at) else {
            return;
        };
        while self
            .turns
            .front()
            .is_some_and(|turn| now.since(turn.at) > KEPT)
        {
            self.turns.pop_front();
        }
        while self
            .told
            .front()
            .is_some_and(|one| now.since(one.heard) > KEPT)
        {
            self.told.pop_front();
        }
    }

    fn telling(&mut self, heard: Time, told: &Telemetry) {
        let clock_s = match self.clock {
            // The rig's clock wraps.
            Some((us, at)) => at + f64::from(told.clock_us.wrapping_sub(us).cast_signed()) * 1e-6,
            None => 0.0,
        };
        if let Some(last) = self.told.back() {
            let passed = clock_s - last.clock_s;
            if (passed - heard.since(last.heard).secs()).abs() > STARTED_ANEW_S {
                // Nothing from before compares.
                self.told.clear();
                self.counters = [None; MAX_AXES];
            } else if passed <= 0.0 {
                // It comes again, or late.
                return;
            }
        }
        self.clock = Some((told.clock_us, clock_s));
        let mut telling = Telling {
            heard,
            clock_s,
            position: [0.0; MAX_AXES],
            speed: [0.0; MAX_AXES],
            held: told.held,
        };
        for (place, (axis, scale)) in told.axes.iter().zip(&self.scales).enumerate() {
            let counter = self.counters[place].get_or_insert(Unwrapped::at(axis.position));
            telling.position[place] = scale.units(counter.follow(axis.position));
            telling.speed[place] =
                scale.units(i64::from(axis.velocity)) / f64::from(VELOCITY_SCALE);
        }
        self.told.push_back(telling);
    }

    /// The first turn since `from` of which this is true, with the turn before it.
    pub(super) fn first(&self, from: Time, is: impl Fn(&Turn) -> bool) -> Option<(Turn, Turn)> {
        let mut before = None;
        for turn in &self.turns {
            if turn.at >= from && is(turn) {
                return before.map(|before| (before, *turn));
            }
            before = Some(*turn);
        }
        None
    }

    /// The turns since `from`.
    pub(super) fn turns_since(&self, from: Time) -> impl Iterator<Item = &Turn> {
        self.turns.iter().filter(move |turn| turn.at >= from)
    }

    /// The tellings since `from`, of our clock.
    pub(super) fn told_since(&self, from: Time) -> impl Iterator<Item = &Telling> {
        let from = seconds(from);
        let offset = self.offset();
        self.told
            .iter()
            .filter(move |one| one.clock_s + offset >= from)
    }

    /// Whether an axis was commanded the same speed for all of `span` until now, near `speed`, without a sign.
    pub(super) fn steady(&self, axis: usize, speed: f64, span: Span) -> bool {
        let (Some(first), Some(last)) = (self.turns.front(), self.turns.back()) else {
            return false;
        };
        let near = |turn: &Turn| (turn.axes[axis].speed.abs() / speed - 1.0).abs() < STEADY;
        let since = Time(last.at.0.saturating_sub(span.0));
        last.at.since(first.at) >= span && self.turns_since(since).all(near)
    }

    /// The speed an axis went before `at`, by what the rig told of its position over a third of a second; `None`
    /// unless `speed` was commanded all the while.
    pub(super) fn went(&self, axis: usize, at: Time, speed: f64) -> Option<f64> {
        let since = Time(at.0.saturating_sub(WENT.0));
        let near = |turn: &Turn| (turn.axes[axis].speed.abs() / speed - 1.0).abs() < STEADY;
        let mut turns = self.turns_since(since).take_while(|turn| turn.at < at);
        if !turns.all(near) {
            return None;
        }
        // The rig follows a little later.
        let (from, to) = (seconds(since) + 0.05, seconds(at) - 0.02);
        Some((self.position_at(axis, to)? - self.position_at(axis, from)?) / (to - from))
    }

    /// How an axis came to rest after `at`; `None` until it has rested for a while.
    pub(super) fn rest(&self, axis: usize, at: Time) -> Option<Rest> {
        let last = self.told.back()?;
        let apart = SAME_COUNTS * self.scales.get(axis)?.units(1).abs();
        let moves = |one: &&Telling| {
            (one.position[axis] - last.position[axis]).abs() > apart || one.speed[axis] != 0.0
        };
        let moving = self.told.iter().rposition(|one| moves(&one));
        let first = moving.map_or(0, |place| place + 1);
        let rests = self.told.get(first)?;
        let (at, offset) = (seconds(at), self.offset());
        let after = last.clock_s + offset - at;
        if last.clock_s - rests.clock_s < RESTED_S || after < RESTED_S {
            return None;
        }
        let window = self.told.range(first.saturating_sub(10)..=first);
        let clocks: Vec<f64> = window.map(|one| one.clock_s).collect();
        let gaps = clocks.windows(2).map(|pair| pair[1] - pair[0]);
        Some(Rest {
            seconds: (rests.clock_s + offset - at).max(0.0),
            way: (last.position[axis] - self.position_at(axis, at)?).abs(),
            position: last.position[axis],
            gap_s: gaps.fold(0.0, f64::max),
        })
    }

    /// Where an axis was at a moment of our clock, in s: between two tellings in proportion.
    fn position_at(&self, axis: usize, at_s: f64) -> Option<f64> {
        let at = at_s - self.offset();
        let after = self.told.iter().position(|one| one.clock_s >= at)?;
        let (before, after) = (self.told.get(after.checked_sub(1)?)?, self.told.get(after)?);
        let share = (at - before.clock_s) / (after.clock_s - before.clock_s);
        let way = after.position[axis] - before.position[axis];
        Some(before.position[axis] + share * way)
    }

    /// From the rig's clock to ours, in s.
    fn offset(&self) -> f64 {
        let all = self.told.iter();
        all.map(|one| seconds(one.heard) - one.clock_s)
            .fold(f64::INFINITY, f64::min)
    }
}

fn seconds(at: Time) -> f64 {
    at.0 as f64 * 1e-9
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile::{builtin, load_rig};
    use crate::shell::probe::Commanded;
    use stillhand_engine::input::StopSource;
    use stillhand_engine::output::State;
    use stillhand_wire::messages::{AxisTelemetry, PerAxis};

    fn at(ms: u64) -> Time {
        Time(0) + Span::from_millis(ms)
    }

    fn rig() -> Rig {
        load_rig(&builtin::BENCH_RIG.source()).expect("shipped").rig
    }

    /// Pan at so many counts and counts/s, heard `late` ms after the rig's clock read `ms` beyond a wrap.
    fn told(ms: u64, late: u64, counts: i32, speed: i32) -> Seen {
        let axis = |position, velocity| AxisTelemetry {
            at_applied: position,
            position,
            velocity: velocity * VELOCITY_SCALE,
        };
        let mut axes = PerAxis::new();
        for own in [axis(counts, speed), axis(0, 0), axis(0, 0)] {
            axes.push(own).expect("three of eight");
        }
        Seen::Told(
            at(ms + late),
            Telemetry {
                session: 1,
                clock_us: (u32::MAX - 100_000).wrapping_add(ms as u32 * 1_000),
                applied: 1,
                accepted: 1,
                axes,
                power: true,
                stop_input: false,
                energised: true,
                brakes: 0,
                faults: 0,
                held: 0,
                at_end: 0,
                referenced: 7,
                supply_mv: None,
                drive_c: None,
                frames_refused: 0,
            },
        )
    }

    fn turn(ms: u64, state: State, speed: f64) -> Seen {
        let mut axes = [Commanded::default(); MAX_AXES];
        axes[0].speed = speed;
        Seen::Turn(Turn {
            at: at(ms),
            state,
            hushed: false,
            axes,
        })
    }

    /// 100 counts/s until 1 s, then at rest at once; tellings every 20 ms, heard unevenly late.
    fn halted() -> Trace {
        let mut trace = Trace::of(&rig());
        for n in 0..=75 {
            let ms = n * 20;
            let counts = (ms.min(1_000) / 10) as i32;
            let late = [1, 9, 4, 25][n as usize % 4];
            trace.take([told(ms, late, counts, if ms < 1_000 { 100 } else { 0 })]);
        }
        trace
    }

    #[test]
    fn rest_is_found_by_the_rigs_clock_and_across_its_wrap() {
        let mut trace = halted();
        let count = 1.0 / rig().axes[0].counts_per_unit;
        // The least delay of 1 ms is all that is not known.
        let rest = trace.rest(0, at(801)).expect("it rests");
        assert!((rest.seconds - 0.2).abs() < 1e-6, "{rest:?}");
        assert!((rest.way - 20.0 * count).abs() < 1e-9, "{rest:?}");
        assert!((rest.gap_s - 0.02).abs() < 1e-6, "{rest:?}");
        for ms in (400..900).step_by(4) {
            trace.take([turn(ms, State::Driving, 3.6)]);
        }
        let went = trace.went(0, at(900), 3.6).expect("known");
        assert!((went - 100.0 * count).abs() < 1e-6, "{went}");
        assert_eq!(trace.went(0, at(900), 4.0), None, "another was commanded");
    }

    #[test]
    fn rest_is_not_believed_before_it_has_lasted() {
        let mut trace = Trace::of(&rig());
        for n in 0..10 {
            trace.take([told(n * 20, 1, 5, 0)]);
        }
        assert_eq!(trace.rest(0, at(30)), None);
        for n in 10..20 {
            trace.take([told(n * 20, 1, 5, 0)]);
        }
        assert!(trace.rest(0, at(30)).is_some());
        // One that moves on is no rest, nor is one whose motor is told to move.
        trace.take([told(400, 1, 5, 3)]);
        assert_eq!(trace.rest(0, at(30)), None);
    }

    #[test]
    fn tellings_that_come_again_or_late_are_nothing_new_and_a_new_start_is() {
        let mut trace = halted();
        let before = trace.told.len();
        trace.take([told(1_480, 40, 3, 0), told(1_500, 40, 3, 0)]);
        assert_eq!(trace.told.len(), before);
        let Seen::Told(heard, mut anew) = told(2_000, 1, 7, 0) else {
            unreachable!("a telling")
        };
        anew.clock_us = 5;
        trace.take([Seen::Told(heard, anew)]);
        assert_eq!(trace.told.len(), 1);
    }

    #[test]
    fn a_moment_is_found_with_the_turn_before_it() {
        let mut trace = Trace::of(&rig());
        let stopped = State::Stopped(StopSource::Command);
        for ms in (0..400).step_by(4) {
            let state = if ms < 300 { State::Driving } else { stopped };
            trace.take([turn(ms, state, 2.0)]);
        }
        let (before, first) = trace
            .first(at(100), |turn| turn.state == stopped)
            .expect("it came");
        assert_eq!((before.at, first.at), (at(296), at(300)));
        assert!(trace.steady(0, 2.0, Span::from_millis(300)));
        assert!(!trace.steady(0, 2.0, Span::from_millis(500)), "too short");
        assert!(!trace.steady(0, 2.1, Span::from_millis(300)));
    }
}
