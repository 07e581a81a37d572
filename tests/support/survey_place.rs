//! A folder with a plan, in which the survey's commands are run.

use super::recordings;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use stillhand_acoustics::plan::{self, Plan};

/// A folder of files of a survey.
pub struct Place {
    folder: tempfile::TempDir,
}

impl Place {
    /// With the plan of one axis and what a made-up rig sounds like along it.
    pub fn new() -> Place {
        let place = Place {
            folder: tempfile::tempdir().unwrap(),
        };
        let out = place.run(&[
            "plan",
            "--rig",
            &bench(),
            "--axis",
            "pan",
            "--rungs",
            "8",
            "--out",
            "plan.toml",
        ]);
        assert!(out.status.success(), "{}", text(&out.stderr));
        assert!(text(&out.stderr).contains("pan must stand at 0 deg when it begins"));
        place
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn run(&self, args: &[&str]) -> Output {
        Command::new(env!("CARGO_BIN_EXE_stillhand"))
            .arg("survey")
            .args(args)
            .current_dir(self.folder.path())
            .output()
            .unwrap()
    }

    pub fn demo(&self, seed: &str) -> Vec<i32> {
        let args = [
            "demo",
            "--plan",
            "plan.toml",
            "--seed",
            seed,
            "--rate",
            "44100",
        ];
        let out = self.run(&[&args[..], &["--out", "demo.wav", "--truth", "truth.json"]].concat());
        assert!(out.status.success(), "{}", text(&out.stderr));
        recordings::samples_of_24_bits(&fs::read(self.path("demo.wav")).unwrap())
    }

    pub fn plan(&self) -> Plan {
        plan::read(&fs::read_to_string(self.path("plan.toml")).unwrap()).unwrap()
    }

    /// What is said of a recording that can't be used.
    pub fn refused(&self, name: &str, more: &[&str]) -> String {
        let args = [&["read", name, "--plan", "plan.toml"], more].concat();
        let out = self.run(&args);
        assert_eq!(
            out.status.code(),
            Some(2),
            "{name}: {}{}",
            text(&out.stdout),
            text(&out.stderr)
        );
        text(&out.stderr)
    }

    pub fn json(&self, name: &str, more: &[&str]) -> serde_json::Value {
        let args = [&["read", name, "--plan", "plan.toml", "--json"], more].concat();
        let out = self.run(&args);
        assert!(out.status.success(), "{name}: {}", text(&out.stderr));
        serde_json::from_slice(&out.stdout).unwrap()
    }
}

pub fn bench() -> String {
    let top = Path::new(env!("CARGO_MANIFEST_DIR"));
    top.join("profiles/bench.toml").display().to_string()
}

pub fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}
