//! What the operator is told while the loop runs: log, live status, and the way out.

mod at_work;

use super::block::Block;
use super::live::News;
use super::padhands::{PadHand, PadHands};
use super::page::{Told, page};
use super::recording::Recording;
use super::{screen, travel, words};
use crate::link::port::PortProblem;
use crate::link::session::Standing;
use crate::profile::RigFile;
use crate::shell::drive::Shared;
use crate::shell::opener::Opener;
use crate::shell::pad::shake::{self, Pads, Shake};
use crate::shell::pad::shaker::{Ask, Shaker, Target};
use crate::shell::pad::{PadReader, PresentPad};
use crate::shell::pages::Pages;
use crate::shell::socket::place::Place;
use crate::shell::wishes::{Wish, Wishes};
use at_work::AtWork;
use std::io::IsTerminal;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;
use stillhand_engine::input::PadId;
use stillhand_engine::operator::Operator;
use stillhand_engine::output::{Notice, State, Status};
use stillhand_engine::time::Time;
use tracing::{debug, info, warn};

/// How often the log and the live status are brought up to date: often enough that nobody sees it.
const LOOK: Duration = Duration::from_millis(50);
/// A rig that has not answered for this many looks (3 s, a dozen greetings) is told of.
const UNANSWERED: u32 = 60;

/// How the run was asked to end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Asked {
    /// It ended by itself or was asked once.
    Orderly,
    /// It was asked twice.
    AtOnce,
}

/// Watches the loop from the outside: log, live status, signals.
pub(super) struct Watch {
    pub(super) rig: RigFile,
    operator: Operator,
    script: Option<PadId>,
    notices: rtrb::Consumer<(Time, Notice)>,
    opener: Opener,
    pads: PadReader,
    pub(super) shared: Arc<Shared>,
    problem: Option<PortProblem>,
    standing: Standing,
    /// Whether the rig was met since the port was opened.
    met: bool,
    /// For how many looks it has not answered since then.
    unanswered: u32,
    present: Vec<String>,
    /// The axes whose motors held with less current when last looked at.
    lowered: u8,
    /// Whether a terminal is there for the live status.
    live: bool,
    /// How many of its lines are on the screen.
    block: Block,
    /// For clients of the control socket, and for the board.
    pages: Pages,
    /// Where the control socket is, if there is one.
    _socket: Option<Place>,
    told: Told,
    /// What becomes of changed files and of other operators, and who is asked for them.
    news: News,
    wishes: Wishes,
    shaker: Shaker,
    /// A command at work on the rig, and what it works with.
    job: Option<AtWork>,
    /// The journal, if there is one.
    pub(super) recording: Option<Recording>,
    /// Which pad is whose.
    pub(super) pad_hands: PadHands,
}

/// Where it hears of everything.
pub(super) struct Sources {
    pub(super) notices: rtrb::Consumer<(Time, Notice)>,
    pub(super) opener: Opener,
    pub(super) pads: PadReader,
    pub(super) news: News,
    pub(super) wishes: Wishes,
    pub(super) shaker: Shaker,
}

impl Watch {
    pub(super) fn new(
        rig: RigFile,
        operator: Operator,
        script: Option<PadId>,
        shared: Arc<Shared>,
        pages: Pages,
        sources: Sources,
    ) -> Watch {
        let Sources {
            notices,
            opener,
            pads,
            news,
            wishes,
            shaker,
        } = sources;
        Watch {
            rig,
            operator,
            script,
            notices,
            opener,
            pads,
            shared,
            problem: None,
            standing: Standing::Closed,
            met: false,
            unanswered: 0,
            present: Vec::new(),
            lowered: 0,
            live: std::io::stderr().is_terminal(),
            block: Block::default(),
            pages,
            _socket: None,
            told: Told::default(),
            news,
            wishes,
            shaker,
            job: None,
            recording: None,
            pad_hands: PadHands::default(),
        }
    }

    /// Keeps the control socket, or tells why there is none.
    pub(super) fn reached_at(&mut self, socket: Result<Option<Place>, String>) {
        match socket {
            Ok(place) => self._socket = place,
            // Driving goes on: who holds the pad needs no socket.
            Err(words) => self.tell(true, words),
        }
    }

    /// Tells something, in the log and to whoever asks later.
    pub(super) fn tell(&mut self, warning: bool, text: String) {
        self.clear_line();
        match warning {
            true => warn!("{text}"),
            false => info!("{text}"),
        }
        self.told.push(text);
    }

    fn about(&self) -> words::About<'_> {
        words::About {
            rig: &self.rig.rig,
            operator: &self.operator,
            script: self.script,
        }
    }

    /// How things stand, unless the loop has died over it.
    fn status(&self) -> Option<Status> {
        Some(self.shared.snapshot.lock().ok()?.status)
    }

    /// Looks again and again until the loop is over.
    pub(super) async fn until(&mut self, over: impl Fn() -> bool) -> Asked {
        use tokio::signal::unix::{SignalKind, signal};
        let mut signals = [
            SignalKind::interrupt(),
            SignalKind::terminate(),
            SignalKind::hangup(),
        ]
        .into_iter()
        .filter_map(|kind| signal(kind).ok());
        let (mut a, mut b, mut c) = match (signals.next(), signals.next(), signals.next()) {
            (Some(a), Some(b), Some(c)) => (a, b, c),
            _ => {
                warn!("no signals to be had: end with the time limit only");
                while !over() {
                    tokio::time::sleep(LOOK).await;
                    self.look();
                }
                return Asked::Orderly;
            }
        };
        let mut asked = 0;
        while !over() {
            tokio::select! {
                _ = a.recv() => asked += 1,
                _ = b.recv() => asked += 1,
                _ = c.recv() => asked += 1,
                () = tokio::time::sleep(LOOK) => {}
            }
            if asked > 0 {
                self.shared.end.store(true, Ordering::Relaxed);
            }
            if asked > 1 {
                return Asked::AtOnce;
            }
            self.look();
        }
        Asked::Orderly
    }

    /// Tells what is new.
    pub(super) fn look(&mut self) {
        self.look_at_hand();
        let news: Vec<(Time, Notice)> = std::iter::from_fn(|| self.notices.pop().ok()).collect();
        // An edit is told of before it is offered, so what the notices speak of is known by now.
        self.look_at_files();
        let status = self.status();
        let mut felt: Vec<(Shake, Pads)> = Vec::new();
        for (place, &(at, notice)) in news.iter().enumerate() {
            // Nobody has to act upon a lack that was made good in the turn that told of it: there is no
            // pad for as long as it takes to look at the script's.
            let lacks = |notice| {
                let lack = |s| matches!(s, State::NoLink(_) | State::NoPad(_) | State::Withheld(_));
                matches!(notice, Notice::Entered(state) if lack(state))
            };
            let mut later = news[place + 1..].iter().take_while(|(then, _)| *then == at);
            let enters = |(_, next): &(Time, Notice)| matches!(next, Notice::Entered(_));
            if lacks(notice) && later.any(enters) {
                continue;
            }
            if let Notice::NextOperator(_) = notice {
                // A full mailbox means that others ask as well: this press did nothing, like theirs.
                let _ = self.wishes.ask(Wish::Next);
            }
            if let Notice::EndHere { axis, .. } = notice {
                self.end_here(usize::from(axis));
            }
            let told = match (notice, &mut self.job) {
                (Notice::Errand(_, news), Some(at_work)) => at_work.job.news(news),
                _ => true,
            };
            let of_file = self.notice_of_file(notice);
            // What the command at work tells in its own words is felt all the same.
            let own = status.and_then(|status| shake::felt(notice, &status, &self.operator));
            felt.extend(own);
            if !told {
                continue;
            }
            let (warning, text) = of_file.unwrap_or_else(|| words::notice(notice, &self.about()));
            self.tell(warning, text);
        }
        if let Some(status) = status {
            if self.news.take_refused() {
                felt.push((Shake::Refused, Pads::holders(&status)));
            }
            self.shake(&felt, &status);
        }
        self.look_at_pads();
        self.look_at_pad_hands();
        self.look_at_link();
        self.look_at_current();
        self.look_at_journal();
        self.look_at_work();
        self.show();
        self.draw();
    }

    /// Asks whoever writes files for the end of an axis's travel that is nearest to where it stands.
    fn end_here(&mut self, place: usize) {
        let Ok(snapshot) = self.shared.snapshot.lock() else {
            return;
        };
        let (Some(axis), Some(status)) = (
            self.rig.rig.axes.get(place),
            snapshot.axes.get(place).copied(),
        ) else {
            return;
        };
        drop(snapshot);
        let _ = self
            .wishes
            .ask(Wish::TravelByPad(travel::nearest_end(axis, &status)));
    }

    /// Has pads shake for what happened, if they may.
    fn shake(&self, felt: &[(Shake, Pads)], status: &Status) {
        if felt.is_empty() || !shake::may(status, &self.operator) {
            return;
        }
        let present = self.pads.present();
        for (shake, pads) in felt {
            let own = present.iter().filter(|pad| pads.has(pad.pad));
            let targets: Vec<Target> = own
                .map(|pad| Target {
                    id: pad.id.clone(),
                    node: pad.node.clone(),
                })
                .collect();
            // A script's pad has no motors, and is missed by nobody.
            if !targets.is_empty() {
                debug!("{} pads are to shake: {}", targets.len(), shake.name());
                self.shaker.ask(Ask {
                    shake: *shake,
                    targets,
                });
            }
        }
    }

    /// Shows how things stand to whoever asked at the control socket or looks at the board.
    fn show(&self) {
        if !self.pages.wanted() {
            return;
        }
        if let Ok(snapshot) = self.shared.snapshot.lock().map(|snapshot| snapshot.clone()) {
            self.pages.show(page(&snapshot, &self.about(), &self.told));
        }
    }

    /// Tells which motors hold with less current, and when all have their full one again.
    fn look_at_current(&mut self) {
        let Ok(snapshot) = self.shared.snapshot.lock() else {
            return;
        };
        if snapshot.lowered == self.lowered {
            return;
        }
        let text = match snapshot.lowered {
            0 => "every motor has its full current again".to_owned(),
            _ => screen::lowered(&snapshot, &self.about()),
        };
        let lowered = snapshot.lowered;
        drop(snapshot);
        self.lowered = lowered;
        self.tell(false, text);
    }

    fn look_at_files(&mut self) {
        let tales = self.news.tales();
        if let Ok(mut snapshot) = self.shared.snapshot.lock() {
            snapshot.file_wrong = self.news.wrong().map(str::to_owned);
            let other = |name: &&str| *name != self.operator.name;
            snapshot.next_operator = self.news.offered().filter(other).map(str::to_owned);
        }
        for (warning, text) in tales {
            self.tell(warning, text);
        }
    }

    /// The words for a notice about a file; what is in force is known from then on.
    fn notice_of_file(&mut self, notice: Notice) -> Option<(bool, String)> {
        let status = self.status()?;
        self.news
            .notice(notice, &mut self.operator, &mut self.rig, &status)
    }

    fn look_at_pads(&mut self) {
        for notice in self.pads.take_notices() {
            self.tell(notice.is_warning(), notice.to_string());
        }
        for id in self.shaker.mute().collect::<Vec<_>>() {
            self.tell(
                false,
                format!(
                    "pad {id} can't shake: what it would tell by that stands here and in the status"
                ),
            );
        }
        let present: Vec<String> = self.pads.present().iter().map(|p| p.id.clone()).collect();
        if present != self.present {
            let pads = self.pads.present();
            let come = pads.iter().filter(|p| !self.present.contains(&p.id));
            let trimmed = |p: &PresentPad| if p.trimmed { ", trimmed" } else { "" };
            let come = come.map(|p| {
                let (id, name, bus) = (&p.id, &p.name, p.bus);
                format!("pad {id} plugged in: {name} ({bus:?}){}", trimmed(p))
            });
            let gone = self.present.iter().filter(|id| !present.contains(id));
            let gone = gone.map(|id| format!("pad {id} gone"));
            for text in come.chain(gone).collect::<Vec<_>>() {
                self.tell(false, text);
            }
            self.present = present;
        }
    }

    /// A pad that took everything brings its operator along.
    fn look_at_pad_hands(&mut self) {
        let Some(status) = self.status() else { return };
        let groups = &status.groups[..self.operator.groups.len()];
        let taken = self.pad_hands.taken(groups, &self.pads.present());
        if let Some(own) = taken.cloned() {
            let PadHand { pad, operator } = own;
            self.tell(
                false,
                format!("pad {pad} has every axis: its operator is {operator}"),
            );
            let _ = self.wishes.ask(Wish::ByPad(operator));
        }
    }

    fn look_at_link(&mut self) {
        let problem = self.opener.problem();
        if problem != self.problem {
            if let Some(problem) = &problem {
                self.tell(true, problem.to_string());
            }
            self.problem = problem;
        }
        let (standing, report) = match self.shared.snapshot.lock() {
            Ok(snapshot) => (snapshot.standing.clone(), snapshot.report),
            Err(_) => return,
        };
        if standing != self.standing {
            let texts = match (&standing, report) {
                (Standing::Refused(refusal), _) => vec![refusal.explain(&self.rig.rig)],
                (Standing::Ready, Some(report)) => words::stricter(&self.rig.rig, &report),
                _ => Vec::new(),
            };
            for text in texts {
                self.tell(true, text);
            }
            self.standing = standing;
        }
        self.look_for_an_answer();
    }

    /// A rig that does not answer is told of once, and not only when the run is over.
    fn look_for_an_answer(&mut self) {
        match self.standing {
            Standing::Closed => (self.met, self.unanswered) = (false, 0),
            Standing::Greeting if !self.met => {
                self.unanswered = self.unanswered.saturating_add(1);
                if self.unanswered == UNANSWERED {
                    self.tell(true, self.why_no_link());
                }
            }
            Standing::Ready => self.met = true,
            _ => {}
        }
    }

    /// Why the rig was never ready.
    pub(super) fn why_no_link(&self) -> String {
        if let Some(problem) = &self.problem {
            return problem.to_string();
        }
        let heard = match self.shared.snapshot.lock() {
            Ok(snapshot) => snapshot.heard.clone(),
            Err(_) => (Vec::new(), 0),
        };
        match (&self.standing, heard.1) {
            (Standing::Refused(refusal), _) => refusal.explain(&self.rig.rig),
            (_, 0) => "the rig never answered: nothing at all was heard on the port. Is the rig \
                       switched on, and is this its port?"
                .to_owned(),
            (_, count) => format!(
                "the rig never answered: {count} bytes were heard, but nothing of our protocol; they \
                 begin {}. Is this the rig's port, and do both ends use {} baud?",
                heard
                    .0
                    .iter()
                    .map(|b| format!("{b:02x}"))
                    .collect::<Vec<_>>()
                    .join(" "),
                self.rig.baud
            ),
        }
    }

    /// Rewrites the live status in place.
    fn draw(&mut self) {
        if !self.live {
            return;
        }
        let Ok(snapshot) = self.shared.snapshot.lock() else {
            return;
        };
        let mut lines = screen::lines(&snapshot, &self.about());
        drop(snapshot);
        let progress = self.job.as_ref().and_then(|at_work| at_work.job.progress());
        lines.extend(progress.iter().flat_map(|line| screen::wrapped(line)));
        self.block.show(&lines);
    }

    /// Takes the live status off the screen, so that something else can be said.
    pub(super) fn clear_line(&mut self) {
        self.block.clear();
    }
}
