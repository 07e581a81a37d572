use super::*;

const SET: LimitSet = LimitSet {
    accel: Accel(2.0),
    jerk: Jerk(3.0),
};

fn with(accel: f64, jerk: f64) -> LimitSet {
    LimitSet {
        accel: Accel(accel),
        jerk: Jerk(jerk),
    }
}

#[test]
fn a_set_without_four_sound_numbers_is_none() {
    assert!(Limits::new(SET, SET, SET).is_some());
    for bad in [0.0, -1.0, f64::INFINITY, f64::NAN] {
        for set in [with(bad, 3.0), with(2.0, bad)] {
            assert_eq!(Limits::new(set, SET, SET), None, "normal {set:?}");
            assert_eq!(Limits::new(SET, set, SET), None, "stop plus {set:?}");
            assert_eq!(Limits::new(SET, SET, set), None, "stop minus {set:?}");
        }
    }
}

#[test]
fn a_stop_set_is_softer_in_no_number() {
    for softer in [with(1.9, 9.0), with(9.0, 2.9)] {
        assert_eq!(Limits::new(SET, softer, SET), None);
        assert_eq!(Limits::new(SET, SET, softer), None);
    }
    let limits = Limits::new(SET, with(4.0, 5.0), with(6.0, 7.0)).expect("harder ones");
    assert_eq!(limits.stop(1.0), with(4.0, 5.0));
    assert_eq!(limits.stop(-1.0), with(6.0, 7.0));
}
