//! The journal of `run`: begun before the loop, watched while it runs, closed after it.

use super::watch::Watch;
use crate::journal::folder::Folder;
use crate::journal::recorder::Recorder;
use crate::journal::{Bounds, Head, RigHead, Standing, writer};
use crate::shell::clock::Clock;
use std::path::Path;
use std::sync::Arc;
use std::thread::JoinHandle;
use stillhand_engine::operator::Operator;
use stillhand_engine::rig::Rig;

/// The journal of a run that has one.
#[derive(Debug)]
pub(super) struct Recording {
    standing: Arc<Standing>,
    writer: Option<JoinHandle<()>>,
    lost: u64,
    told: bool,
}

/// Begins a journal in the folder `asked`, unless that is `off`. One that can't begin is told of like one
/// that stopped: who holds the pad needs no journal.
pub(super) fn start(
    asked: &str,
    rig: &Rig,
    operator: &Operator,
) -> (Option<Recorder>, Option<Recording>) {
    if asked == "off" {
        return (None, None);
    }
    let standing = Arc::new(Standing::default());
    let mut recording = Recording {
        standing: Arc::clone(&standing),
        writer: None,
        lost: 0,
        told: false,
    };
    let bounds = Bounds::default();
    let begun = Folder::open(Path::new(asked), bounds.files).and_then(|folder| {
        let (recorder, ring) = Recorder::new(&bounds, Arc::clone(&standing));
        let head = head(rig, operator);
        let writer = writer::start(folder, head, ring, Arc::clone(&standing), Clock::date);
        let writer = writer.map_err(|error| format!("no thread for the writer: {error}"))?;
        Ok((recorder, writer))
    });
    match begun {
        Ok((recorder, writer)) => {
            recording.writer = Some(writer);
            (Some(recorder), Some(recording))
        }
        Err(words) => {
            standing.stop(format!("there is no journal: {words}"));
            (None, Some(recording))
        }
    }
}

fn head(rig: &Rig, operator: &Operator) -> Head {
    let axes = rig.axes.iter().map(|axis| (axis.name.clone(), axis.unit));
    Head {
        program: env!("CARGO_PKG_VERSION").to_owned(),
        // Another one for each run on this machine, whatever becomes of its date.
        run: Clock::date() ^ Clock::system().now().0.rotate_left(32),
        number: 0,
        begun_s: 0,
        operator: operator.name.clone(),
        rigs: vec![RigHead {
            id: rig.id.clone(),
            axes: axes.collect(),
        }],
    }
}

impl Recording {
    /// What is new about it: warnings in words.
    pub(super) fn news(&mut self) -> Vec<String> {
        let mut news = Vec::new();
        let lost = self.standing.lost();
        if lost > self.lost {
            let turns = lost - self.lost;
            news.push(format!(
                "the disk was too slow for the journal: {turns} turns are not in it"
            ));
            self.lost = lost;
        }
        if let Some(why) = self.stopped().filter(|_| !self.told) {
            news.push(format!("{why}; driving goes on without it"));
            self.told = true;
        }
        news
    }

    /// Why nothing is recorded any more.
    pub(super) fn stopped(&self) -> Option<String> {
        self.standing.stopped()
    }
}

impl Watch {
    /// Waits until everything is written. The loop, and with it the recorder, must have ended.
    pub(super) fn close_journal(&mut self) {
        let writer = self.recording.as_mut().and_then(|r| r.writer.take());
        if let Some(writer) = writer {
            // It only panics with a bug of ours, and then the process has ended already.
            let _ = writer.join();
        }
    }

    /// Tells how the journal stands, to whoever looks.
    pub(super) fn look_at_journal(&mut self) {
        let Some(recording) = &mut self.recording else {
            return;
        };
        let news = recording.news();
        if news.is_empty() {
            return;
        }
        if let Ok(mut snapshot) = self.shared.snapshot.lock() {
            snapshot.journal_stopped = recording.stopped();
        }
        for text in news {
            self.tell(true, text);
        }
    }
}
