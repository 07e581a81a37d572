//! `stillhand travel` beside a running daemon: the end is where the axis stands, the file keeps its remarks, and the
//! daemon takes it over.

use std::fs;
use std::path::PathBuf;
use std::process::{Child, Command, Output, Stdio};
use std::time::{Duration, Instant};
use stillhand::profile::builtin;

/// Longer than anything here takes on a busy machine.
const PATIENCE: Duration = Duration::from_secs(20);

struct Hall {
    folder: tempfile::TempDir,
    daemon: Child,
}

impl Hall {
    fn new() -> Hall {
        let folder = tempfile::tempdir().expect("a folder");
        fs::write(
            folder.path().join("hall.toml"),
            builtin::BENCH_RIG.source().text,
        )
        .expect("written");
        fs::write(
            folder.path().join("hand.pad"),
            "0.000 ABS_RX 0\n40.000 ABS_RX 0\n",
        )
        .expect("written");
        let daemon = Command::new(env!("CARGO_BIN_EXE_stillhand"))
            .args([
                "run",
                "--rig",
                "hall.toml",
                "--port",
                "sim",
                "--pad",
                "script:hand.pad",
            ])
            .args(["--socket", "hall.sock", "--for", "40s"])
            .current_dir(folder.path())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("it runs");
        let hall = Hall { folder, daemon };
        hall.until("driving", |status| status["state"] == "driving");
        hall
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn ask(&self, args: &[&str]) -> Output {
        Command::new(env!("CARGO_BIN_EXE_stillhand"))
            .args(args)
            .args(["--socket", "hall.sock"])
            .current_dir(self.folder.path())
            .output()
            .expect("it runs")
    }

    fn until(&self, what: &str, is: impl Fn(&serde_json::Value) -> bool) {
        let begun = Instant::now();
        loop {
            let out = self.ask(&["status", "--json"]);
            let answer: Option<serde_json::Value> = serde_json::from_slice(&out.stdout).ok();
            if answer.as_ref().is_some_and(|answer| is(&answer["status"])) {
                return;
            }
            assert!(begun.elapsed() < PATIENCE, "never {what}: {answer:#?}");
            std::thread::sleep(Duration::from_millis(50));
        }
    }
}

impl Drop for Hall {
    fn drop(&mut self) {
        // Gone already, or ended here: the bench rig leaves by itself.
        let _ = self.daemon.kill();
        let _ = self.daemon.wait();
    }
}

#[test]
fn an_end_set_here_is_in_the_file_and_in_force() {
    let hall = Hall::new();
    let before = fs::read_to_string(hall.path("hall.toml")).expect("there");
    let out = hall.ask(&["travel", "pan", "high=here", "--rig", "hall.toml"]);
    let told = String::from_utf8_lossy(&out.stderr).into_owned();
    assert_eq!(out.status.code(), Some(0), "{told}");
    let after = fs::read_to_string(hall.path("hall.toml")).expect("there");
    assert_eq!(
        after,
        before.replace("[\"-170 deg\", \"170 deg\"]", "[\"-170 deg\", \"0 deg\"]")
    );
    let kept = fs::read_to_string(hall.path("hall.toml.before")).expect("kept");
    assert_eq!(kept, before);
    hall.until("in force", |status| {
        status["axes"][0]["travel"] == serde_json::json!([-170.0, 0.0])
    });

    let out = hall.ask(&["travel", "pan", "low=here", "--rig", "hall.toml"]);
    let told = String::from_utf8_lossy(&out.stderr).into_owned();
    assert_eq!(out.status.code(), Some(2), "{told}");
    assert!(
        told.contains("the low end must be below the high one"),
        "{told}"
    );
    assert_eq!(
        fs::read_to_string(hall.path("hall.toml")).expect("there"),
        after
    );
}
