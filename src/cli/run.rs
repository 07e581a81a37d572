//! `stillhand run`: drive a rig.

mod ways;

use super::job::Job;
use super::live::{self, AtHand, Hands, Hardware, News, Trims};
use super::padhands::{PadHand, PadHands};
use super::pick::{PickedRig, check_pads, pick_operators, pick_rig};
use super::summary::Summary;
use super::watch::{Asked, Sources, Watch};
use super::{Outcome, date, figures, recording, trim};
use crate::board::Listening;
use crate::link::budget::budget;
use crate::link::port::Port;
use crate::link::session::Session;
use crate::profile::RigFile;
use crate::shell::clock::Clock;
use crate::shell::drive::{self, Drive, Record, Shared};
use crate::shell::edits::{self, Edits};
use crate::shell::errands::{self, Offering};
use crate::shell::opener::Opener;
use crate::shell::pad::player::Player;
use crate::shell::pad::shaker::Shaker;
use crate::shell::pad::trim::file as trims;
use crate::shell::pad::trim::fresh::Fresh;
use crate::shell::pad::{Inbox, PadChoice, PadReader, ReaderOptions};
use crate::shell::probe;
use crate::shell::socket;
use crate::shell::watch::FileWatch;
use crate::shell::wishes::Wishes;
use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::thread::JoinHandle;
use stillhand_engine::input::{Order, PadId};
use stillhand_engine::operator::Operator;
use stillhand_engine::output::Notice;
use stillhand_engine::time::{Span, Time};
use stillhand_engine::{Engine, MAX_PADS};
use tracing::info;
use tracing::level_filters::LevelFilter;
use tracing_subscriber::filter::Targets;
use tracing_subscriber::layer::SubscriberExt;
use tracing_subscriber::util::SubscriberInitExt;
use ways::{listen, pick_port, pick_script};

/// Notices waiting for the log: a burst of a tick (16) for each tick between two readings (13), and
/// room for a pause of the log of a second.
const NOTICES: usize = 1_024;
/// Stack of the loop's thread: it touches 64 KiB beforehand and uses less.
const LOOP_STACK: usize = 512 * 1024;

/// What `run` can be told.
#[derive(Clone, Debug, clap::Args)]
pub struct RunArgs {
    /// The rig file; the built-in bench rig if not given
    #[arg(long, value_name = "FILE")]
    rig: Option<PathBuf>,
    /// The operator profile: a file, or talk, concert, instruments; talk if not given
    #[arg(long, value_name = "FILE")]
    operator: Option<PathBuf>,
    /// The folder of the operators that `use` and presses choose from: the profile's own if not given, or
    /// the built-in ones. With it, --operator takes their names, the first of them if not given
    #[arg(long, value_name = "DIR")]
    operators: Option<PathBuf>,
    /// The operator of one pad, by its ID and a name: whenever that pad takes all axes, this operator's
    /// hands drive; may be given again
    #[arg(long, value_name = "ID=NAME")]
    operator_for: Vec<PadHand>,
    /// The port: a path, or sim for the bench rig; the rig file's if not given
    #[arg(long, value_name = "sim|PATH")]
    port: Option<String>,
    /// With the bench rig: what it does wrong, and when (see `bench-rig`)
    #[arg(long, value_name = "FILE")]
    mischief: Option<PathBuf>,
    /// Who may drive: any, an ID that `stillhand pads` prints, or script:FILE; may be given again.
    /// With a script and a pad, the script drives until the pad appears
    #[arg(long, value_name = "any|ID|script:FILE")]
    pad: Vec<PadChoice>,
    /// Where the trims of pads are, which `trim` measures: auto (a folder of this user's), a folder, or off
    #[arg(long, value_name = "auto|DIR|off", default_value = "auto")]
    trims: String,
    /// The board, a web page that shows how things stand: a port of this machine, an address and a port, or off
    #[arg(long, value_name = "PORT|ADDR:PORT|off", default_value = "off")]
    board: String,
    /// The folder for the journal, which `replay` runs again; or off
    #[arg(long, value_name = "DIR|off", default_value = "off")]
    journal: String,
    /// Where `status`, `stop` and their like reach this daemon: auto (a private folder), a path, or off
    #[arg(long, value_name = "auto|PATH|off", default_value = "auto")]
    socket: String,
    /// Leave files as they were at the start; otherwise edits of them take effect while it runs
    #[arg(long)]
    no_watch: bool,
    /// Turns of the loop a second, 50 to 1000
    #[arg(long, value_name = "HZ", default_value_t = 250, value_parser = clap::value_parser!(u32).range(50..=1000))]
    rate: u32,
    /// End by itself this long after the rig is ready, such as 10s or 2min
    #[arg(long = "for", value_name = "DURATION", value_parser = duration)]
    until: Option<Span>,
    /// End with a summary in JSON as the last line of stdout
    #[arg(long)]
    json: bool,
}

impl RunArgs {
    /// Who drives first, and who else is at hand.
    fn operators(&self, rig: &RigFile) -> Result<(Hands, AtHand), Outcome> {
        let (named, folder) = (self.operator.as_deref(), self.operators.as_deref());
        let (hands, at_hand) = pick_operators(named, folder, rig)?;
        check_pads(&self.operator_for, &at_hand, &hands, rig)?;
        Ok((hands, at_hand))
    }
}

/// `10s`, `500ms`, `2min`.
pub(super) fn duration(text: &str) -> Result<Span, String> {
    let split = text
        .find(|c: char| c.is_ascii_alphabetic())
        .unwrap_or(text.len());
    let (number, unit) = text.split_at(split);
    let scale = match unit.trim() {
        "ms" => 1e-3,
        "s" => 1.0,
        "min" => 60.0,
        "h" => 3600.0,
        _ => {
            return Err(format!(
                "`{text}` has no unit: say it as 500ms, 10s, 2min or 1h"
            ));
        }
    };
    match number.trim().parse::<f64>() {
        Ok(n) if n.is_finite() && n > 0.0 && n * scale <= 86_400.0 => {
            Ok(Span::from_secs_f64(n * scale))
        }
        _ => Err(format!("`{text}` is no time from 1ms to 24h")),
    }
}

/// Runs the daemon.
pub fn run(args: &RunArgs) -> Outcome {
    start_log();
    match prepare(args) {
        Ok(ready) => ready.drive(args, None).unwrap_or_else(|outcome| outcome),
        Err(outcome) => outcome,
    }
}

/// Runs the daemon with a command at work on the rig, until that is over.
pub(super) fn run_job(args: &RunArgs, job: Box<dyn Job>) -> Outcome {
    start_log();
    match prepare(args) {
        Ok(ready) => ready
            .drive(args, Some(job))
            .unwrap_or_else(|outcome| outcome),
        Err(outcome) => outcome,
    }
}

/// The rig file and the profile that a run would begin with.
///
/// # Errors
/// The outcome to end with.
pub(super) fn files_of(args: &RunArgs) -> Result<(RigFile, Operator), Outcome> {
    let PickedRig { file, .. } = pick_rig(args.rig.as_deref())?;
    let (hands, _) = args.operators(&file)?;
    Ok((file, hands.operator))
}

/// The same with its files left as they are at the start.
pub(super) fn unwatched(args: &RunArgs) -> RunArgs {
    let no_watch = true;
    RunArgs {
        no_watch,
        ..args.clone()
    }
}

/// Whether figures are asked for in JSON.
pub(super) fn wants_json(args: &RunArgs) -> bool {
    args.json
}

/// When the trim of the pad with this ID was written, as far as its file has the pad's name.
pub(super) fn trimmed_on(args: &RunArgs, id: &str) -> Option<String> {
    let folder = trim::folder(&args.trims)?;
    date::file_date(&folder.join(trims::name_of(id)))
}

/// The rig file that was named.
pub(super) fn rig_path(args: &RunArgs) -> Option<&Path> {
    args.rig.as_deref()
}

fn start_log() {
    // An empty one would be a filter that lets nothing through.
    let asked = std::env::var("RUST_LOG")
        .ok()
        .filter(|asked| !asked.trim().is_empty());
    let filter = asked.and_then(|asked| asked.parse::<Targets>().ok());
    let lines = tracing_subscriber::fmt::layer()
        .with_writer(std::io::stderr)
        .with_target(false)
        .with_ansi(std::io::stderr().is_terminal());
    // Fails only where a log is already set up, and then there is one.
    let _ = tracing_subscriber::registry()
        .with(lines)
        .with(filter.unwrap_or_else(|| Targets::new().with_default(LevelFilter::INFO)))
        .try_init();
}

/// Everything that is needed before the first tick.
struct Prepared {
    rig: RigFile,
    operator: Operator,
    /// The place of the script's pad.
    script: Option<PadId>,
    drive: Drive,
    asked: rtrb::Producer<Order>,
    offering: Offering,
    notices: rtrb::Consumer<(Time, Notice)>,
    opener: Opener,
    pads: PadReader,
    /// Watches the trims, for as long as it lives.
    trims: Option<FileWatch>,
    period: Span,
    /// Reaped when it has left; it outlives us otherwise.
    bench: Option<std::process::Child>,
    /// Who reads profiles, what is told of them, and who is asked for others.
    files: (FileWatch, News, Wishes),
    /// Where the board will be.
    board: Option<Listening>,
}

fn prepare(args: &RunArgs) -> Result<Prepared, Outcome> {
    let PickedRig { mut file, path } = pick_rig(args.rig.as_deref())?;
    let (hands, at_hand) = args.operators(&file)?;
    let operator = hands.operator.clone();
    let script = pick_script(&args.pad)?;
    // The last place: real pads get theirs from the first on.
    let place = script.as_ref().map(|_| PadId(MAX_PADS as u8 - 1));
    let board = listen(&args.board)?;
    let period = Span(1_000_000_000 / u64::from(args.rate));
    let carried = budget(&file.rig, file.baud, period).map_err(Outcome::bad_file)?;
    file.rig.frame_period = Span(carried.frame_period_ns);
    let engine = Engine::new(std::slice::from_ref(&file.rig), &operator, period)
        .map_err(Outcome::bad_file)?;
    let (port_path, bench) = pick_port(args, &file, path.as_deref())?;
    let port = Port::open(&port_path, file.baud).map_err(Outcome::fault)?;
    let clock = Clock::new();
    let (opener, ports) =
        Opener::start(port, port_path, file.baud, move || clock.now()).map_err(Outcome::fault)?;
    let (pads, trims, inbox) = start_pads(args, script.is_some(), &operator, clock)?;
    let (producer, notices) = rtrb::RingBuffer::new(NOTICES);
    let (asked, orders) = rtrb::RingBuffer::new(socket::ORDERS);
    // Different from run to run, so that the rig can tell an old run's frames from ours.
    let first_session = Clock::system().now().0 as u32 ^ std::process::id().rotate_left(16);
    info!("operator {}; {}", operator.name, file.summary());
    let (offering, errands) = errands::errands();
    let picked = PickedRig {
        file: file.clone(),
        path,
    };
    let (edits, files) = watch_files(args, (hands, at_hand), picked, period, clock)?;
    let drive = Drive {
        engine,
        session: Session::new(&file.rig, first_session),
        ports,
        inbox,
        script: place
            .zip(script)
            .map(|(place, s)| (place, Player::new(s, true))),
        clock,
        period,
        until: args.until,
        shared: Arc::new(Shared::new()),
        edits,
        errands,
        probe: None,
        notices: producer,
        orders,
        journal: None,
    };
    Ok(Prepared {
        rig: file,
        operator,
        script: place,
        drive,
        asked,
        offering,
        notices,
        opener,
        pads,
        trims,
        period,
        bench,
        files,
        board,
    })
}

/// Hears pads from now on, and watches their trims unless told not to; `script` keeps a place for one that plays a
/// pad.
fn start_pads(
    args: &RunArgs,
    script: bool,
    operator: &Operator,
    clock: Clock,
) -> Result<(PadReader, Option<FileWatch>, Inbox), Outcome> {
    let shelf = trim::pick(&args.trims)?;
    let fresh = Fresh::default();
    let watched = trim::folder(&args.trims)
        .filter(|_| !args.no_watch)
        .map(|folder| Trims {
            folder,
            shelf: shelf.clone(),
            fresh: fresh.clone(),
        });
    let watch = watched.map(|trims| FileWatch::start(trims, move || clock.now()));
    let watch = watch.transpose().map_err(Outcome::fault)?;
    let options = ReaderOptions {
        choices: args.pad.clone(),
        wired: Vec::new(),
        scripts: u8::from(script),
        trims: Some(shelf),
        fresh,
        reports: true,
        env_mappings: true,
    };
    let (pads, mut inbox) =
        PadReader::start(options, move || clock.now()).map_err(Outcome::fault)?;
    inbox.set_stop_button(operator.bindings.stop());
    Ok((pads, watch, inbox))
}

/// Reads profiles for as long as the second part lives, and watches the files unless told not to.
fn watch_files(
    args: &RunArgs,
    (hands, at_hand): (Hands, AtHand),
    rig: PickedRig,
    period: Span,
    clock: Clock,
) -> Result<(Edits, (FileWatch, News, Wishes)), Outcome> {
    let (offers, edits, in_force) = edits::edits();
    let hardware = Hardware {
        path: rig.path,
        file: rig.file,
        port_given: args.port.is_some(),
    };
    let all = (hands, hardware, at_hand);
    let files = live::start(all, !args.no_watch, period, (offers, in_force), clock)
        .map_err(Outcome::fault)?;
    Ok((edits, files))
}

impl Prepared {
    fn drive(self, args: &RunArgs, job: Option<Box<dyn Job>>) -> Result<Outcome, Outcome> {
        let Prepared {
            rig,
            operator,
            script,
            mut drive,
            asked,
            offering,
            notices,
            opener,
            pads,
            trims: _trims,
            period,
            bench,
            files,
            board,
        } = self;
        let (shared, clock) = (Arc::clone(&drive.shared), drive.clock);
        warn_of(&rig, &operator);
        let (recorder, recording) = recording::start(&args.journal, &rig.rig, &operator);
        drive.journal = recorder;
        let (probe, seen) = job.as_ref().map(|_| probe::probe()).unzip();
        drive.probe = probe;
        let thread = begin(drive)?;
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .map_err(|error| Outcome::fault(format!("no runtime: {error}")))?;
        let _within = runtime.enter();
        // Watched until the end of the run.
        let (_watching, news, wishes) = files;
        let (pages, socket) = ways::open(args, &rig.rig.id, board, (asked, &shared, &wishes))?;
        let shaker = Shaker::start(move || clock.now()).map_err(Outcome::fault)?;
        let sources = Sources {
            notices,
            opener,
            pads,
            news,
            wishes,
            shaker,
        };
        let mut watch = Watch::new(rig, operator, script, shared, pages, sources);
        watch.recording = recording;
        watch.pad_hands = PadHands::of(args.operator_for.clone());
        if let Some((job, seen)) = job.zip(seen) {
            watch.work(job, offering, clock, seen);
        }
        watch.reached_at(socket);
        let outcome = runtime.block_on(watch.until(|| thread.is_finished()));
        if outcome == Asked::AtOnce {
            // A command at work keeps what it has.
            watch.outcome();
            let words = "ended at once: the rig's own watchdog stops it";
            return Err(Outcome::fault(words));
        }
        let Ok(record) = thread.join() else {
            return Err(Outcome::fault("the control loop panicked"));
        };
        if let Some(mut bench) = bench {
            // It leaves by itself; what has left already is reaped here.
            let _ = bench.try_wait();
        }
        Ok(ended(&record, &mut watch, period, args.json))
    }
}

/// Tells the last of it, and the outcome.
fn ended(record: &Record, watch: &mut Watch, period: Span, json: bool) -> Outcome {
    watch.close_journal();
    watch.look();
    watch.clear_line();
    match watch.outcome() {
        Some(outcome) if !record.gave_up => outcome,
        _ => tell(record, watch, period, json),
    }
}

/// Says what has to be known before anything moves.
fn warn_of(rig: &RigFile, operator: &Operator) {
    for caution in CAUTIONS {
        info!("{caution}");
    }
    for line in figures::stops(&figures::figures(rig, operator)) {
        info!("{line}");
    }
}

/// Begins the control loop on a thread of its own.
fn begin(drive: Drive) -> Result<JoinHandle<Record>, Outcome> {
    let work = move || drive::run(drive, |punctuality| info!("{punctuality}"));
    std::thread::Builder::new()
        .name("drive".to_owned())
        .stack_size(LOOP_STACK)
        .spawn(work)
        .map_err(|error| Outcome::fault(format!("no thread for the control loop: {error}")))
}

/// What is told before anything moves.
const CAUTIONS: [&str; 2] = [
    "a stop in software can fail with the computer, the radio or the cable, and leaves motors \
     energised: keep a hardware switch that removes motor power within reach",
    "keep people clear of the rig; a tilted or vertical load may drop when power goes; test the \
     stop every day; local codes and licensed riggers decide",
];

fn tell(record: &Record, watch: &Watch, period: Span, json: bool) -> Outcome {
    // A table of nothing would only stand before the reason.
    if record.gave_up && !json {
        return Outcome::fault(watch.why_no_link());
    }
    let summary = Summary::new(record, &watch.rig.rig, period);
    let text = if json {
        summary.json().map_err(|e| e.to_string())
    } else {
        Ok(summary.table())
    };
    match text {
        Ok(text) => println!("{}", text.trim_end()),
        Err(error) => return Outcome::fault(error),
    }
    if record.gave_up {
        return Outcome::fault(watch.why_no_link());
    }
    Outcome::good()
}
