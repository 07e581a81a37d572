//! An operator profile held against the rigs it is to drive.

use super::near::nearest;
use super::operatorfile::{HandFile, OperatorFile};
use super::problem::{Log, Problem, Problems};
use super::quietfile::{Measured, QuietFile};
use super::rigfile::RigFile;
use super::table::found;
use stillhand_engine::operator::{Hand, Operator, Quiet};
use stillhand_engine::rig::{Axis, Rig};

impl OperatorFile {
    /// Finds each axis of the profile on the rigs, in the order the engine is given them. Its quiet
    /// file, if it names one, is not asked: see [`OperatorFile::resolve_with`].
    ///
    /// # Errors
    ///
    /// Every axis that no rig has, that several have, that is measured in another unit, or that
    /// asks for an enable control there is not.
    pub fn resolve(&self, rigs: &[Rig]) -> Result<Operator, Problems> {
        self.resolve_on(rigs, &[])
    }

    /// Finds each axis of the profile on the rigs, with the ceilings of its quiet file: axes that
    /// file does not name count as not measured.
    ///
    /// # Errors
    ///
    /// As [`OperatorFile::resolve`]; first of all what of the quiet file does not fit the rigs.
    pub fn resolve_with(
        &self,
        files: &[RigFile],
        quiet: Option<&QuietFile>,
    ) -> Result<Operator, Problems> {
        let measured = quiet.map(|quiet| quiet.on(files)).transpose()?;
        let rigs: Vec<Rig> = files.iter().map(|file| file.rig.clone()).collect();
        self.resolve_on(&rigs, &measured.unwrap_or_default())
    }

    fn resolve_on(&self, rigs: &[Rig], measured: &[Measured]) -> Result<Operator, Problems> {
        let mut log = Log::new(&self.source);
        let hands: Vec<Option<Hand>> = self
            .hands
            .iter()
            .map(|hand| self.resolve_hand(hand, rigs, measured, &mut log))
            .collect();
        let hands = hands.into_iter().collect::<Option<Vec<Hand>>>();
        log.end(hands.map(|hands| Operator {
            name: self.name.clone(),
            hands,
            sticks: self.sticks,
            groups: self.groups.clone(),
            speed_trigger: self.speed_trigger,
            enable: self.enable,
            bindings: self.bindings.clone(),
            starts_quiet: self.begins_quiet,
            shakes: self.shakes,
            first_gear: self.first_gear,
        }))
    }

    fn resolve_hand(
        &self,
        hand: &HandFile,
        rigs: &[Rig],
        measured: &[Measured],
        log: &mut Log,
    ) -> Option<Hand> {
        let (rig, axis) = find(hand, rigs, log)?;
        let there = rigs.get(rig)?.axes.get(axis)?;
        if there.unit != hand.unit {
            log.push(other_unit(hand, there, &rigs.get(rig)?.id));
            return None;
        }
        if there.needs_enable && self.enable.is_none() {
            log.push(no_enable(hand, &rigs.get(rig)?.id));
            return None;
        }
        let own = |of: &&Measured| (of.rig, of.axis) == (rig, axis);
        let quiet = measured.iter().find(own).map(|of| of.quiet);
        Some(Hand {
            rig: u8::try_from(rig).ok()?,
            axis: u8::try_from(axis).ok()?,
            group: hand.group,
            control: hand.control,
            fine: hand.fine,
            framing: hand.framing,
            quiet: quiet.unwrap_or(Quiet::NotMeasured),
            inch: hand.inch,
            invert: hand.invert,
            throw: hand.throw,
            curve: hand.curve,
            steady: hand.steady,
            gears: hand.gears,
            ceiling: hand.ceiling,
            gain: hand.gain,
            lose: hand.lose,
        })
    }
}

fn other_unit(hand: &HandFile, there: &Axis, rig: &str) -> Problem {
    let (is, ours) = (there.unit.symbol(), hand.unit.symbol());
    let message = format!("axis {} is measured in {is} on rig \"{rig}\"", hand.axis);
    Problem::at(hand.unit_span.clone(), message)
        .found(format!("speeds in {ours}/s"))
        .allowed(format!("speeds of this axis in {is}/s"))
        .mend(format!("write its gears and ceiling in {is}/s"))
}

fn no_enable(hand: &HandFile, rig: &str) -> Problem {
    let axis = &hand.axis;
    Problem::at(
        hand.axis_span.clone(),
        format!("axis {axis} of rig \"{rig}\" moves only while an enable control is held"),
    )
    .found("no `enable` in [operator]")
    .allowed("a profile that drives this axis names its enable control")
    .mend("add `enable = \"lt\"`, or another trigger or button, to [operator]")
}

/// The places of the rig and of its axis, if exactly one rig that the profile allows has it.
fn find(hand: &HandFile, rigs: &[Rig], log: &mut Log) -> Option<(usize, usize)> {
    let wanted = |rig: &Rig| hand.rig.as_ref().is_none_or(|id| *id == rig.id);
    if let Some(id) = &hand.rig
        && !rigs.iter().any(wanted)
    {
        let ids = listed(rigs.iter().map(|rig| rig.id.as_str()));
        log.push(
            Problem::at(
                hand.rig_span.clone(),
                format!("axis {} is on an unknown rig", hand.axis),
            )
            .found(found(id))
            .allowed(format!("one of the rigs given: {ids}"))
            .mend("name one of those, or give that rig's file too"),
        );
        return None;
    }
    let on = |rig: &Rig| rig.axes.iter().position(|axis| axis.name == hand.axis);
    let mut places = rigs
        .iter()
        .enumerate()
        .filter(|(_, rig)| wanted(rig))
        .filter_map(|(index, rig)| Some((index, on(rig)?)));
    let Some(first) = places.next() else {
        log.push(lacking(hand, rigs, wanted));
        return None;
    };
    if let Some((second, _)) = places.next() {
        let (one, two) = (&rigs[first.0].id, &rigs[second].id);
        log.push(
            Problem::at(
                hand.axis_span.clone(),
                format!("two rigs have an axis {}", hand.axis),
            )
            .found(format!("rig \"{one}\" and rig \"{two}\""))
            .allowed("an axis of one rig")
            .mend(format!("add `rig = \"{one}\"` or `rig = \"{two}\"`")),
        );
        return None;
    }
    Some(first)
}

fn lacking(hand: &HandFile, rigs: &[Rig], wanted: impl Fn(&Rig) -> bool) -> Problem {
    let asked = || rigs.iter().filter(|rig| wanted(rig));
    let names = || asked().flat_map(|rig| rig.axes.iter().map(|axis| axis.name.as_str()));
    let ids = listed(asked().map(|rig| rig.id.as_str()));
    let mend = match nearest(&hand.axis, names()) {
        Some(near) => format!("did you mean [axis.{near}]?"),
        None => "take this axis out, or choose a rig that has it".to_owned(),
    };
    Problem::at(
        hand.axis_span.clone(),
        format!("no axis {} on rig {ids}", hand.axis),
    )
    .found(format!("axis {}", hand.axis))
    .allowed(format!("the axes of the rig: {}", listed(names())))
    .mend(mend)
}

/// `a, b, c`, or that there is none.
fn listed<'a>(words: impl Iterator<Item = &'a str>) -> String {
    let words: Vec<&str> = words.collect();
    match words.is_empty() {
        true => "(none was given)".to_owned(),
        false => words.join(", "),
    }
}
