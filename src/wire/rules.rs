//! Two rules both ends must agree on, as pure functions.

/// A deadline further ahead than this belongs to another time: after 36 minutes an old frame's deadline would
/// otherwise look like one to come. The daemon sets 100 ms.
pub const MAX_DEADLINE_AHEAD_US: u32 = 1_000_000;

/// True if `seq` is newer than `last`: ahead of it by less than half the number range.
#[must_use]
pub fn is_newer(seq: u32, last: u32) -> bool {
    seq.wrapping_sub(last).cast_signed() > 0
}

/// True if a frame with this deadline may be taken at `now_us`; both on the rig's wrapping clock, microseconds.
#[must_use]
pub fn deadline_holds(deadline_us: u32, now_us: u32) -> bool {
    deadline_us.wrapping_sub(now_us) <= MAX_DEADLINE_AHEAD_US
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn newer_is_wrap_safe() {
        assert!(is_newer(1, 0));
        assert!(!is_newer(0, 0));
        assert!(!is_newer(0, 1));
        assert!(is_newer(0, u32::MAX));
        assert!(is_newer(5, u32::MAX - 5));
        assert!(!is_newer(u32::MAX, 3));
        assert!(is_newer(0x7fff_ffff, 0));
        assert!(!is_newer(0x8000_0000, 0), "exactly half way is not newer");
        assert!(!is_newer(0x8000_0001, 0));
    }

    #[test]
    fn deadlines_are_wrap_safe_and_bounded_ahead() {
        assert!(deadline_holds(100, 100), "the last microsecond counts");
        assert!(!deadline_holds(100, 101));
        assert!(
            deadline_holds(50, u32::MAX - 49),
            "100 us ahead across the wrap"
        );
        assert!(
            !deadline_holds(u32::MAX - 49, 50),
            "100 us late across the wrap"
        );
        assert!(deadline_holds(MAX_DEADLINE_AHEAD_US, 0));
        assert!(!deadline_holds(MAX_DEADLINE_AHEAD_US + 1, 0));
        assert!(!deadline_holds(0x8000_0000, 0));
    }
}
