//! The reading thread against pipes in the place of nodes.

use super::*;
use crate::shell::pad::mailbox::{Inbox, mailbox};
use std::cell::Cell;
use std::io::Write;
use std::os::fd::FromRawFd;
use stillhand_engine::time::Span;

/// A node that is the reading end of a pipe which keeps reports apart (pipe(2), `O_DIRECT`), and its other end.
fn node(by_radio: bool) -> (Node, Arc<Watched>, File, Signs, Inbox) {
    let mut ends = [0; 2];
    let flags = libc::O_DIRECT | libc::O_NONBLOCK | libc::O_CLOEXEC;
    // SAFETY: the call writes two descriptors, which nobody else owns.
    let [ours, theirs] = unsafe {
        assert_eq!(libc::pipe2(ends.as_mut_ptr(), flags), 0);
        ends.map(|end| File::from_raw_fd(end))
    };
    let watched = Arc::new(Watched {
        pad: PadId(3),
        changed: AtomicU64::new(0),
        streams: AtomicBool::new(false),
    });
    let (outbox, inbox) = mailbox(4);
    let node = Node::new(ours, Arc::downgrade(&watched), by_radio);
    (node, watched, theirs, outbox.signs(), inbox)
}

fn ms(ms: u64) -> Time {
    Time::default() + Span::from_millis(ms)
}

#[test]
fn each_report_by_radio_is_a_sign_of_life_and_by_cable_each_that_is_new() {
    for by_radio in [true, false] {
        let (mut node, watched, mut pad, signs, mut inbox) = node(by_radio);
        let mut lives = |report: &[u8], times: usize, at: u64| {
            for _ in 0..times {
                pad.write_all(report).expect("room");
            }
            assert!(node.look(&signs, ms(at)));
            inbox.take_alive().collect::<Vec<_>>()
        };
        assert!(lives(&[], 0, 0).is_empty());
        assert_eq!(lives(&[1; 64], 5, 20), [PadId(3)]);
        let repeated = lives(&[1; 64], 5, 40);
        assert_eq!(repeated == [PadId(3)], by_radio, "{repeated:?}");
        assert_eq!(lives(&[2; 64], 1, 60), [PadId(3)]);
        assert_eq!(lives(&[2; 63], 1, 80), [PadId(3)], "a shorter one");
        assert!(lives(&[], 0, 100).is_empty(), "told once");
        assert!(!watched.streams());
    }
}

/// Reports that come all the time, the pad's thread told in between of a change or not.
#[test]
fn what_streams_is_told_by_a_flag() {
    for (changes, expected) in [(false, true), (true, false)] {
        let (mut node, watched, mut pad, signs, _inbox) = node(true);
        for look in 50..200 {
            if changes && look % 50 == 0 {
                watched.changed(ms(20 * look));
            }
            pad.write_all(&[7]).expect("room");
            assert!(node.look(&signs, ms(20 * look)));
        }
        assert_eq!(watched.streams(), expected);
        // Its other end is gone: it streams no more, and is not looked at again.
        drop(pad);
        assert!(!node.look(&signs, ms(4_020)));
        assert!(!watched.streams());
    }
}

#[test]
fn a_pad_that_is_gone_is_read_no_more() {
    let (mut node, watched, _pad, signs, _inbox) = node(true);
    drop(watched);
    assert!(!node.look(&signs, ms(0)));
}

/// A node that is read without end is left after what the kernel keeps, and the rest is read in the next look.
#[test]
fn one_look_has_an_end() {
    let (mut node, _watched, mut pad, ..) = node(true);
    let mut sent = 0;
    while sent < MOST + 3 && pad.write(&[1]).is_ok() {
        sent += 1;
    }
    let (first, second) = (node.drain().expect("there"), node.drain().expect("there"));
    assert_eq!(first + second, sent as u32);
    assert!(first <= MOST as u32);
}

/// The thread reads what it is brought, rests between looks, and ends with whoever brings nodes.
#[test]
fn the_thread_ends_with_the_one_that_finds() {
    let (node, watched, mut pad, signs, mut inbox) = node(true);
    let (found, founds) = sync_channel(1);
    found.send(node).expect("room");
    pad.write_all(&[1]).expect("room");
    let looks = Cell::new(0);
    let now = || {
        looks.set(looks.get() + 1);
        ms(20 * looks.get())
    };
    std::thread::scope(|scope| {
        scope.spawn(move || {
            let _plugged_in = watched;
            while inbox.take_alive().next() != Some(PadId(3)) {
                std::thread::sleep(Duration::from_millis(1));
            }
            drop(found);
        });
        read(&founds, &signs, now);
    });
    // Between two looks it rests, and nothing is left to wait for.
    assert!(looks.get() <= 50, "{} looks", looks.get());
}
