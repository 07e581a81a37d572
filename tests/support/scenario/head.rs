//! What stands above the first timed line: which rig, which operators, which pads.

use super::Pad;
use super::words::{Read, Rest, rest};
use stillhand::profile::{RigFile, Source, builtin, load_operator, load_quiet, load_rig};
use stillhand::shell::lines::{ScriptProblem, Word, nearest};
use stillhand::soak::world::WorldOptions;
use stillhand_engine::input::PadBus;
use stillhand_engine::operator::Operator;
use stillhand_engine::rig::Rig;

pub const HEAD: [&str; 8] = [
    "rig",
    "operator",
    "unreferenced",
    "pad1",
    "tick",
    "line",
    "hostile",
    "cable",
];
/// One more than a daemon hears.
const MOST_PADS: usize = 9;

/// What stands above the first timed line.
pub struct Head {
    rig: Option<Source>,
    operator: Option<Source>,
    /// The quiet file of every operator of the text.
    quiet: Option<Source>,
    /// Files to be taken over later, each by its name.
    rigs: Vec<(String, Source)>,
    operators: Vec<(String, Source)>,
    pub unreferenced: bool,
    /// The cable is not plugged in yet.
    pub unplugged: bool,
    pub options: WorldOptions,
    pub pads: Vec<Pad>,
}

/// What a block of TOML is.
#[derive(Clone, Copy)]
enum Kind {
    Rig,
    Operator,
    Quiet,
}

/// A block of TOML that has begun.
struct Block {
    kind: Kind,
    /// `None` for the file in force from the start.
    name: Option<String>,
    toml: String,
}

impl Head {
    pub fn read(name: &str, text: &str) -> Result<Head, Vec<ScriptProblem>> {
        let pad = |_| Pad {
            bus: PadBus::Wired,
            drives: true,
            script: None,
        };
        let mut head = Head {
            rig: None,
            operator: None,
            quiet: None,
            rigs: Vec::new(),
            operators: Vec::new(),
            unreferenced: false,
            unplugged: false,
            options: WorldOptions::default(),
            pads: (0..MOST_PADS).map(pad).collect(),
        };
        let mut problems = Vec::new();
        // A block of TOML keeps its lines' numbers.
        let mut block: Option<Block> = None;
        for (index, line) in text.lines().enumerate() {
            let words = Word::split(index + 1, line);
            let first = words.first().map_or("", |word| word.text);
            if first == "end"
                && let Some(done) = block.take()
            {
                head.keep(name, done);
            } else if let Some(begun) = &mut block {
                begun.toml.push_str(line);
                begun.toml.push('\n');
            } else if let Some((kind, called)) = begins(&words) {
                block = Some(Block {
                    kind,
                    name: called,
                    toml: "\n".repeat(index + 1),
                });
            } else if let Err(problem) = head.line(&words) {
                problems.push(*problem);
            }
        }
        if block.is_some() {
            problems.push(ScriptProblem {
                found: "the end of the head".into(),
                allowed: "a line `end`".into(),
                mend: "write `end` behind the block's last line".into(),
                ..ScriptProblem::of_file("a block of TOML has no end")
            });
        }
        if problems.is_empty() {
            Ok(head)
        } else {
            Err(problems)
        }
    }

    fn keep(&mut self, file: &str, block: Block) {
        let source = Source::new(file, block.toml);
        match (block.kind, block.name) {
            (Kind::Rig, None) => self.rig = Some(source),
            (Kind::Operator, None) => self.operator = Some(source),
            (Kind::Rig, Some(name)) => self.rigs.push((name, source)),
            (Kind::Operator, Some(name)) => self.operators.push((name, source)),
            (Kind::Quiet, _) => self.quiet = Some(source),
        }
    }

    fn line(&mut self, words: &[Word<'_>]) -> Read<()> {
        let Some((first, others)) = words.split_first() else {
            return Ok(());
        };
        let mut others = Rest::new(*first, others, "");
        match first.text {
            "rig" => self.rig = Some(shipped(&mut others, &[builtin::BENCH_RIG])?),
            "operator" => self.operator = Some(shipped(&mut others, &builtin::OPERATORS)?),
            "unreferenced" => self.unreferenced = true,
            "cable" => self.unplugged = others.choice(&[("out", true)])?,
            "hostile" => self.options.hostile_line = others.choice(&[("line", true)])?,
            "tick" => self.options.period = others.duration()?,
            "line" => self.options.line_delay = others.duration()?,
            other => match pad_place(other) {
                Some(place) => {
                    let pad = &mut self.pads[place];
                    pad.bus = others.choice(&[
                        ("wired", PadBus::Wired),
                        ("usb", PadBus::Usb),
                        ("bluetooth", PadBus::Bluetooth),
                    ])?;
                    pad.drives = others.peek().is_none() || others.choice(&[("stops", false)])?;
                }
                None => {
                    let like = nearest(other, HEAD)
                        .map_or_else(String::new, |name| format!("; did you mean {name}?"));
                    return Err(Box::new(first.problem(
                        "this word has no place above the first timed line",
                        &HEAD.join(" "),
                        &format!("take one of the list{like}"),
                    )));
                }
            },
        }
        rest(&mut others)
    }

    pub fn rig(&self, name: &str) -> Result<RigFile, String> {
        let missing = || format!("{name}: no rig: write `rig bench` at the top");
        a_rig(self.rig.as_ref().ok_or_else(missing)?)
    }

    pub fn operator(&self, name: &str, rig: &RigFile) -> Result<Operator, String> {
        let missing = || format!("{name}: no operator: write `operator talk` at the top");
        self.an_operator(self.operator.as_ref().ok_or_else(missing)?, rig)
    }

    /// The rig files that may be taken over.
    pub fn rigs(&self) -> Result<Vec<(String, Rig)>, String> {
        let rigs = self.rigs.iter();
        rigs.map(|(name, source)| Ok((name.clone(), a_rig(source)?.rig)))
            .collect()
    }

    /// The operators who may take over: the shipped ones and those of the text.
    pub fn operators(&self, rig: &RigFile) -> Result<Vec<(String, Operator)>, String> {
        let shipped = builtin::OPERATORS.iter();
        let shipped = shipped.map(|builtin| (builtin.name.to_owned(), builtin.source()));
        // One that does not fit this rig can't take over on it.
        let mut all: Vec<(String, Operator)> = shipped
            .filter_map(|(name, source)| Some((name, self.an_operator(&source, rig).ok()?)))
            .collect();
        for (name, source) in &self.operators {
            all.push((name.clone(), self.an_operator(source, rig)?));
        }
        Ok(all)
    }

    fn an_operator(&self, source: &Source, rig: &RigFile) -> Result<Operator, String> {
        let quiet = self.quiet.as_ref().map(load_quiet).transpose();
        let file = load_operator(source);
        quiet
            .and_then(|quiet| file?.resolve_with(std::slice::from_ref(rig), quiet.as_ref()))
            .map_err(|problems| problems.render(false))
    }
}

fn a_rig(source: &Source) -> Result<RigFile, String> {
    load_rig(source).map_err(|problems| problems.render(false))
}

/// Whether these words begin a block of TOML: of what, and what it is called.
fn begins(words: &[Word<'_>]) -> Option<(Kind, Option<String>)> {
    let words: Vec<&str> = words.iter().map(|word| word.text).collect();
    let (kind, called) = match words[..] {
        [only] => (only.strip_suffix(':')?, None),
        [kind, name] => (kind, Some(name.strip_suffix(':')?.to_owned())),
        _ => return None,
    };
    match kind {
        "rig" => Some((Kind::Rig, called)),
        "operator" => Some((Kind::Operator, called)),
        "quiet" => called.is_none().then_some((Kind::Quiet, None)),
        _ => None,
    }
}

/// Whether this line of a head begins a block of TOML.
pub fn begins_block(line: &str) -> bool {
    begins(&Word::split(1, line)).is_some()
}

fn shipped(words: &mut Rest<'_, '_>, all: &[builtin::Builtin]) -> Read<Source> {
    let names: Vec<(&str, Source)> = all.iter().map(|b| (b.name, b.source())).collect();
    words.choice(&names)
}

/// The place of `pad3`, from 0.
pub fn pad_place(word: &str) -> Option<usize> {
    let number: usize = word.strip_prefix("pad")?.parse().ok()?;
    (1..=MOST_PADS).contains(&number).then(|| number - 1)
}
