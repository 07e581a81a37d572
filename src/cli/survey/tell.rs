//! What was found, in words and in JSON.

use super::read::Read;
use serde_json::{Value, json};
use std::fmt::Write;
use stillhand_acoustics::judge::{AxisFinding, LeftOut, Rung};
use stillhand_acoustics::levels::db;
use stillhand_acoustics::locate::LEAST_MATCH;
use stillhand_acoustics::tones::Tone;

/// A room that changed by more than this while the ladder went on, in dB, makes the rest doubtful.
const CHANGED_DB: f64 = 1.0;

/// A beginning that was said may be off by so much, in s: a rung is listened to from so long after its ramp.
const ELSEWHERE_S: f64 = 0.25;
/// A margin so near to what can be told from nothing, in dB, makes it chance which rungs pass.
const CHANCE_DB: f64 = 4.0;

/// What was found, for people.
pub fn text(read: &Read) -> String {
    let study = &read.study;
    let mut text = String::new();
    // Writing to a text can't fail.
    let _ = writeln!(
        text,
        "{}: {:.1} s, {} Hz, {}, channel {} of {}, peak {:.1} dB",
        read.name,
        study.seconds,
        read.header.rate_hz,
        read.header.format,
        read.channel,
        read.header.channels,
        study.peak_db
    );
    let _ = writeln!(
        text,
        "the plan begins at {:.2} s (likeness {:.2} of 1, {})",
        study.place.offset_s,
        study.place.matched,
        match study.place.drift_ppm {
            0.0 => "no drift of the clocks to be told".to_owned(),
            drift => format!("clocks {drift:+.0} millionths apart"),
        }
    );
    let _ = writeln!(text, "levels in {}", read.unit());
    let _ = writeln!(
        text,
        "room tone {:.1} dB",
        read.shown(study.findings.room.db())
    );
    for line in still_words(read).iter().chain(&doubts(read)) {
        let _ = writeln!(text, "{line}");
    }
    for axis in &study.findings.axes {
        text.push_str(&axis_text(read, axis));
    }
    text
}

fn axis_text(read: &Read, axis: &AxisFinding) -> String {
    let unit = axis.unit.symbol();
    let mut text = format!("\n{}\n", axis.name);
    for rung in &axis.speeds {
        let value = format!("{} {unit}/s", rung.value);
        let _ = writeln!(text, "  {value:>16}  {}", rung_words(read, rung));
    }
    for rung in &axis.ramps {
        let value = format!("{} {unit}/s^2", rung.value);
        let _ = writeln!(text, "  {value:>16}  {}", rung_words(read, rung));
    }
    let speed = axis.speed.map(|speed| format!("{speed} {unit}/s"));
    let ramp = axis
        .ramp
        .map(|(accel, jerk)| format!("{accel} {unit}/s^2, {jerk} {unit}/s^3"));
    let none = || "none".to_owned();
    let _ = writeln!(
        text,
        "  quiet up to: {}; {}",
        speed.unwrap_or_else(none),
        ramp.unwrap_or_else(none)
    );
    for (low, high) in &axis.bands {
        let _ = writeln!(text, "  sings between {low} and {high} {unit}/s");
    }
    text
}

/// A rung in words: `-51.9 dB, adds -63.0; tone 134 Hz -3.1 dB; quiet`.
pub fn rung_words(read: &Read, rung: &Rung) -> String {
    if let Some(why) = rung.left_out {
        return match why {
            LeftOut::Spoilt(at) => format!("left out: something else was heard at {at:.1} s"),
            LeftOut::Clipped(at) => format!("left out: clipped at {at:.1} s; turn the gain down"),
            LeftOut::Missing => "left out: not in the recording".to_owned(),
        };
    }
    let adds = match rung.own_db {
        Some(own) => format!("adds {:.1}", read.shown(own)),
        None => format!("adds less than {:.1}", read.shown(rung.own_at_most_db)),
    };
    let mut text = format!("{:.1} dB, {adds}", read.shown(rung.level_db));
    if let Some(tone) = rung.tone {
        let _ = write!(
            text,
            "; tone {:.0} Hz {:+.1} dB",
            tone.hz,
            tone.audibility_db()
        );
    }
    if let Some((from, to)) = rung.spoilt.first() {
        let _ = write!(
            text,
            "; something else from {from:.1} to {to:.1} s left out"
        );
    }
    match (rung.passes(), rung.excess_db) {
        (Some(true), _) => text.push_str("; quiet"),
        (_, Some(excess)) => {
            let _ = write!(text, "; heard, by {excess:.1} dB");
        }
        _ => {}
    }
    text
}

/// The standstill in words, and what can be done about it.
pub fn still_words(read: &Read) -> Vec<String> {
    let findings = &read.study.findings;
    let still = &findings.still;
    let level = read.shown(findings.standstill.db());
    if !still.audible() {
        return vec![format!("standstill {level:.1} dB: not heard")];
    }
    let mut lines = vec![format!(
        "standstill {level:.1} dB: HEARD while nothing moves"
    )];
    for tone in still.tones.iter().take(5) {
        let (hz, above) = (tone.hz, tone.audibility_db());
        lines.push(format!(
            "  a tone of {hz:.0} Hz, {above:.1} dB above what the room masks"
        ));
    }
    lines.push(
        "  what helps: less standstill current where no weight hangs on the axis, another chopper \
         frequency or mode of the drive, motor power off for room tone"
            .to_owned(),
    );
    lines.push("  the rungs are judged by what moving adds to it".to_owned());
    lines
}

/// What makes the results doubtful.
fn doubts(read: &Read) -> Vec<String> {
    let study = &read.study;
    let mut lines = Vec::new();
    if let Some((one, two)) = study.heard.halves_db
        && (one - two).abs() > CHANGED_DB
    {
        lines.push(format!(
            "the room changed by {:.1} dB between the halves of the ladder: measure again when it is steady",
            two - one
        ));
    }
    let still = study.heard.still.mean.energy;
    if study.heard.wanders > 0.0 && still > 0.0 {
        lines.push(format!(
            "the room came and went by {:.1} dB: rungs are held against the pauses beside them and taken \
             louder by that doubt; measure again when it is steady",
            db(1.0 + study.heard.wanders.sqrt() / still)
        ));
    }
    let begins = study.place.offset_s;
    match study.found {
        Some(found) if (found.offset_s - begins).abs() > ELSEWHERE_S => lines.push(format!(
            "the ladder is heard to begin at {:.2} s, not at {begins:.2} s as was said: leave --begins out",
            found.offset_s
        )),
        None if study.place.matched < LEAST_MATCH => lines.push(
            "the ladder is not heard where it was said to begin: a rig too quiet to be found, or another beginning"
                .to_owned(),
        ),
        _ => {}
    }
    let (resolves, margin) = (study.findings.resolves_db, study.findings.margin_db);
    if margin > resolves - CHANCE_DB {
        lines.push(format!(
            "a rung that adds nothing at all could be shown here to be {resolves:.1} dB below the room tone: with a \
             margin of {margin} dB it is partly chance what counts as heard; ask for less"
        ));
    }
    lines.extend(study.findings.axes.iter().flat_map(axis_doubts));
    for (at, to) in study
        .heard
        .room
        .spoilt
        .iter()
        .chain(&study.heard.still.spoilt)
        .take(3)
    {
        lines.push(format!(
            "something else from {at:.1} to {to:.1} s left out of room tone or standstill"
        ));
    }
    if let Some(at) = study.clipped.first() {
        lines.push(format!(
            "clipped {} times, first at {at:.1} s: turn the gain down",
            study.clipped.len()
        ));
    }
    lines
}

/// What makes the results of one axis doubtful.
fn axis_doubts(axis: &AxisFinding) -> Vec<String> {
    let (name, unit) = (&axis.name, axis.unit.symbol());
    let mut lines = Vec::new();
    if axis.whine_stops {
        lines.push(format!(
            "{name}: a whine of the standstill stops while it moves and is not taken out there; starts and stops have it \
             on either side: mend the standstill first, then survey again"
        ));
    }
    let judged: Vec<&Rung> = axis
        .speeds
        .iter()
        .filter(|r| r.passes().is_some())
        .collect();
    let runs = judged
        .chunk_by(|a, b| a.passes() == b.passes())
        .collect::<Vec<_>>();
    for pair in runs.windows(2) {
        if let [run @ ([first] | [first, _]), after] = pair
            && first.passes() == Some(false)
            && after.iter().all(|rung| rung.passes() == Some(true))
        {
            lines.push(format!(
                "{name}: {} {unit}/s is heard and faster is not: it sings there, or something passed by just then. Listen \
                 to the recording, or drive again from rung {}",
                run.iter().map(|r| r.value.to_string()).collect::<Vec<_>>().join(" and "),
                first.rung
            ));
        }
    }
    lines
}

/// What was found, for programs; `no_file` is why no quiet file follows.
pub fn json(read: &Read, no_file: Option<&str>) -> Value {
    let study = &read.study;
    let findings = &study.findings;
    json!({
        "recording": read.name,
        "date": read.date,
        "channel": read.channel,
        "rate_hz": read.header.rate_hz,
        "seconds": study.seconds,
        "rig": read.plan.rig,
        "levels": read.unit(),
        "begins_s": study.place.offset_s,
        "drift_ppm": study.place.drift_ppm,
        "likeness": study.place.matched,
        "margin_db": findings.margin_db,
        "resolves_db": finite(findings.resolves_db),
        "room_db": read.shown(findings.room.db()),
        "standstill": {
            "db": read.shown(findings.standstill.db()),
            "adds_db": findings.still.own_db.map(|own| read.shown(own)),
            "heard": findings.still.audible(),
            "tones": findings.still.tones.iter().map(|tone| tone_json(read, tone)).collect::<Vec<_>>(),
        },
        "doubts": doubts(read),
        "axes": findings.axes.iter().map(|axis| axis_json(read, axis)).collect::<Vec<_>>(),
        "no_quiet_file": no_file,
    })
}

fn tone_json(read: &Read, tone: &Tone) -> Value {
    json!({
        "hz": tone.hz,
        "db": read.shown(tone.db),
        "audibility_db": tone.audibility_db(),
    })
}

fn axis_json(read: &Read, axis: &AxisFinding) -> Value {
    let rung = |rung: &Rung| {
        json!({
            "rung": rung.rung,
            "value": rung.value,
            "db": finite(read.shown(rung.level_db)),
            "adds_db": rung.own_db.map(|own| read.shown(own)),
            "adds_at_most_db": finite(read.shown(rung.own_at_most_db)),
            "tone": rung.tone.as_ref().map(|tone| tone_json(read, tone)),
            "excess_db": rung.excess_db,
            "quiet": rung.passes(),
            "left_out": rung.left_out.map(|_| rung_words(read, rung)),
            "spoilt_s": rung.spoilt,
        })
    };
    json!({
        "name": axis.name,
        "unit": axis.unit.symbol(),
        "speed": axis.speed,
        "accel": axis.ramp.map(|ramp| ramp.0),
        "jerk": axis.ramp.map(|ramp| ramp.1),
        "avoid": axis.bands,
        "whine_stops": axis.whine_stops,
        "speeds": axis.speeds.iter().map(rung).collect::<Vec<_>>(),
        "ramps": axis.ramps.iter().map(rung).collect::<Vec<_>>(),
    })
}

/// JSON knows no infinity.
fn finite(x: f64) -> Option<f64> {
    x.is_finite().then_some(x)
}
