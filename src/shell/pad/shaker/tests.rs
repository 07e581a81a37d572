//! Shakes in virtual time up to the motors, and the kernel's side as far as a file can stand for it.

use super::*;

/// What the motors were made to do.
#[derive(Default)]
struct Felt(Vec<String>);

impl Motors for Felt {
    fn begin(&mut self, targets: &[Target]) {
        let ids: Vec<&str> = targets.iter().map(|target| target.id.as_str()).collect();
        self.0.push(format!("[{}]", ids.join(" ")));
    }

    fn turn(&mut self, pulse: &Pulse) {
        self.0
            .push(format!("{}/{} {}", pulse.strong, pulse.weak, pulse.ms));
    }
}

fn ask(shake: Shake, id: &str) -> Ask {
    let target = Target {
        id: id.to_owned(),
        node: PathBuf::from("/nowhere/event0"),
    };
    Ask {
        shake,
        targets: vec![target],
    }
}

/// Plays until nothing is left, waking up when the player says so; the time each thing was felt in ms.
fn play(player: &mut Player, from: u64, until: u64) -> (Vec<String>, u64) {
    let (mut felt, mut log, mut now) = (Felt::default(), Vec::new(), from);
    while now < until {
        let wait = player.play(Time(now * 1_000_000), &mut felt);
        log.extend(felt.0.drain(..).map(|what| format!("{now} {what}")));
        let Some(wait) = wait else { break };
        now += wait.0 / 1_000_000;
    }
    (log, now)
}

#[test]
fn a_shake_is_played_pulse_by_pulse_and_then_let_go() {
    let mut player = Player::default();
    player.ask(ask(Shake::Withheld, "left"));
    let (log, _) = play(&mut player, 1000, 9000);
    assert_eq!(
        log,
        ["1000 [left]", "1000 70/0 150", "1250 70/0 150", "1400 []"]
    );
    assert_eq!(player.play(Time(9), &mut Felt::default()), None);
}

#[test]
fn the_more_urgent_one_takes_over_and_the_most_urgent_of_the_rest_follows() {
    let mut player = Player::default();
    player.ask(ask(Shake::Refused, "left"));
    let (log, now) = play(&mut player, 0, 100);
    assert_eq!(log, ["0 [left]", "0 0/60 80"]);
    player.ask(ask(Shake::Applied, "left"));
    player.ask(ask(Shake::EndNear, "left"));
    player.ask(ask(Shake::Waits, "left"));
    player.ask(ask(Shake::Stopped, "right"));
    // The same again while it is felt is nothing new.
    player.ask(ask(Shake::Stopped, "right"));
    let (log, _) = play(&mut player, now, 9000);
    assert_eq!(log[..2], ["160 [right]", "160 100/0 400"]);
    assert_eq!(log[2..], ["560 []", "560 [left]", "560 0/60 120", "680 []"]);
}

#[test]
fn a_pad_without_motors_is_named_once() {
    let folder = tempfile::tempdir().expect("a folder");
    let node = folder.path().join("event0");
    std::fs::write(&node, "").expect("written");
    let shaker = Shaker::start(|| Time(0)).expect("a thread");
    let target = |id: &str| Target {
        id: id.to_owned(),
        node: node.clone(),
    };
    let mut asked = ask(Shake::Applied, "one");
    asked.targets = vec![target("one"), target("two")];
    shaker.ask(asked);
    let named = |_| {
        shaker
            .mute
            .recv_timeout(Duration::from_secs(15))
            .expect("it is named")
    };
    assert_eq!([(), ()].map(named), ["one", "two"]);
    // More urgent, so that it is begun at once; another one after it comes out of the mailbox behind it.
    let mut again = ask(Shake::Withheld, "one");
    again.targets = vec![target("one")];
    shaker.ask(again);
    let mut third = ask(Shake::Stopped, "three");
    third.targets = vec![target("one"), target("three")];
    shaker.ask(third);
    assert_eq!(named(()), "three");
    assert_eq!(
        std::fs::read(&node).expect("there"),
        b"",
        "nothing was written"
    );
}

/// The kernel's numbers, from linux/input.h on a 64-bit machine.
#[test]
#[cfg(target_pointer_width = "64")]
fn the_request_is_the_kernels() {
    assert_eq!(EVIOCSFF, 0x4030_4580);
    assert_eq!(size_of::<libc::input_event>(), 24);
}
