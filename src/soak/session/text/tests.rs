use super::*;
use crate::soak::session::play::record;
use crate::soak::session::stage::replay;

/// All that can be done, as it is written.
const ALL: &str = "turns 12\nlate 63200 us\npad 0 plugged usb drives\npad 3 plugged bluetooth stops\n\
    pad 0 move rx -0.53\npad 0 move lt 0.1\npad 0 press tr\npad 0 lift tr\npad 0 alive\npad 0 bus streaming\npad 0 unplugged\n\
    stop\nmode quiet on\nmode rolling off\ngear 0 2\nmischief POWER OFF\nmischief SLIP pan -40\nnoise flip 30 7\n\
    noise off\ncable out\ncable in\nport clogged\nport free\nreference 1 -12.5\nreference 0 170 again\n";

fn head() -> String {
    let mut scene = record(3, 0.1).scene;
    scene.acts.clear();
    scene.write(&["a remark".to_owned()])
}

#[test]
fn what_is_written_is_read_as_itself() {
    let text = head() + ALL;
    let scene = Scene::read(&text).expect("good");
    assert_eq!(scene.acts.len(), ALL.lines().count());
    assert_eq!(scene.write(&["a remark".to_owned()]), text);
}

#[test]
fn a_session_that_was_written_plays_on_alike() {
    let mut profiles = 0;
    for seed in [1, 2, 5] {
        let played = record(seed, 40.0);
        let text = played.scene.write(&[]);
        let read = Scene::read(&text).expect("good");
        assert_eq!(read.acts, played.scene.acts);
        let (first, again) = (
            played.result.expect("lawful"),
            replay(&read).expect("lawful"),
        );
        assert_eq!(format!("{first:?}"), format!("{again:?}"));
        profiles += first.entered("profile");
    }
    assert!(profiles > 0);
}

#[test]
fn a_bad_line_is_named_with_what_is_allowed() {
    let lines = head().lines().count() + 1;
    for (bad, words) in [
        ("jump", "`jump` is nothing that can be done"),
        ("turns", "`` is no number"),
        ("turns -1", "`-1` is no number"),
        ("late 5 ms", "`5 ms` is no time"),
        ("pad 99 alive", "there is no pad 99"),
        ("pad 0 wave", "a pad does not `wave`"),
        ("pad 0 move rx 1.5", "1.5 is out of bounds"),
        ("pad 0 move rx NaN", "NaN is out of bounds"),
        ("pad 0 move qq 0", "`qq` is no stick"),
        ("pad 0 press knob", "`knob` is no button"),
        ("mode loud on", "`loud` is not known here"),
        ("gear 0", "`` is no number"),
        ("reference 0", "`` is no number"),
        ("reference 0 twice", "`twice` is no number"),
        ("noise hum 3 4", "`hum` is not known here"),
        ("noise flip 101 4", "101 is out of bounds"),
        ("noise", "`` is no noise"),
        ("cable up", "`up` is not known here"),
        ("mischief DANCE", "there is no such event"),
        ("profile {}", "this is not a profile of this version"),
        ("rig-file [1", "this is not a rig of this version"),
    ] {
        let found = Scene::read(&format!("{}{bad}\n", head())).expect_err(bad);
        assert!(found.contains(words), "{bad}: {found}");
        assert!(
            found.starts_with(&format!("line {lines}: ")),
            "{bad}: {found}"
        );
    }
    for without in ["period", "line", "rig", "operator"] {
        let kept: String = head()
            .lines()
            .filter(|line| !line.starts_with(&format!("{without} ")))
            .map(|line| format!("{line}\n"))
            .collect();
        let found = Scene::read(&kept).expect_err(without);
        assert!(
            found.contains(&format!("no line `{without} ...`")),
            "{found}"
        );
    }
}
