//! `check --schema`: what is good fits the schema, what has the wrong shape does not, and no key the
//! reader knows is left out. An independent validator (Python's jsonschema) is the judge.

use serde_json::{Map, Value, json};
use std::collections::BTreeSet;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};
use stillhand::profile::{
    Kind, Problems, Source, load_operator, load_quiet, load_rig, load_trim, schema,
};
use toml::de::{DeTable, DeValue};

/// Reads pairs of schema and document, answers with what is wrong with each.
const JUDGE: &str = "
import json, sys
from jsonschema import Draft202012Validator as V
out = []
for schema, document in json.load(sys.stdin):
    V.check_schema(schema)
    out.append([e.message for e in V(schema).iter_errors(document)])
json.dump(out, sys.stdout)
";

/// What is wrong with each document by its schema.
fn judge(pairs: &[(Value, Value)]) -> Vec<Vec<String>> {
    // The system's own is the one the package is installed for.
    let own = "/usr/bin/python3";
    let python = if Path::new(own).exists() {
        own
    } else {
        "python3"
    };
    let mut python = Command::new(python)
        .args(["-c", JUDGE])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let asked = serde_json::to_vec(pairs).unwrap();
    python.stdin.take().unwrap().write_all(&asked).unwrap();
    let output = python.wait_with_output().unwrap();
    assert!(
        output.status.success(),
        "python3-jsonschema is needed, and schemas that are ones"
    );
    serde_json::from_slice(&output.stdout).unwrap()
}

fn to_json(value: &DeValue) -> Value {
    match value {
        DeValue::String(text) => json!(text),
        DeValue::Integer(i) => json!(i64::from_str_radix(i.as_str(), i.radix()).unwrap()),
        DeValue::Float(f) => match f.as_str().parse::<f64>() {
            Ok(number) if number.is_finite() => json!(number),
            _ => json!(1.5),
        },
        DeValue::Boolean(flag) => json!(flag),
        DeValue::Datetime(date) => json!({"date": date.to_string()}),
        DeValue::Array(list) => list.iter().map(|v| to_json(v.get_ref())).collect(),
        DeValue::Table(table) => table_json(table),
    }
}

fn table_json(table: &DeTable) -> Value {
    let entries = table.iter();
    let entries = entries.map(|(k, v)| (k.get_ref().to_string(), to_json(v.get_ref())));
    Value::Object(entries.collect::<Map<_, _>>())
}

fn files(folder: &str) -> Vec<(String, String)> {
    let entries = std::fs::read_dir(folder).unwrap().map(Result::unwrap);
    let mut files: Vec<(String, String)> = entries
        .filter(|entry| entry.path().extension().is_some_and(|e| e == "toml"))
        .map(|entry| {
            let text = std::fs::read_to_string(entry.path()).unwrap();
            (entry.file_name().into_string().unwrap(), text)
        })
        .collect();
    files.sort();
    files
}

#[test]
fn every_shipped_file_fits() {
    let files = files("profiles");
    let pairs: Vec<(Value, Value)> = files
        .iter()
        .map(|(name, text)| {
            let kind = Kind::of(&Source::new(name.as_str(), text.as_str())).unwrap();
            (
                schema(kind),
                table_json(DeTable::parse(text).unwrap().get_ref()),
            )
        })
        .collect();
    assert!(pairs.len() >= 7);
    for ((name, _), wrong) in files.iter().zip(judge(&pairs)) {
        assert_eq!(wrong, Vec::<String>::new(), "{name}");
    }
}

/// Files of `tests/bad` whose shape is right: a number beyond its bound, or two keys that don't go
/// together. A schema does not see that; `check` does.
const SENSE: [&str; 26] = [
    "cross-other-unit.toml",
    "cross-quiet-axes.toml",
    "cross-quiet-other-rig.toml",
    "cross-quiet-steps.toml",
    "cross-unknown-axis.toml",
    "cross-unknown-rig.toml",
    "operator-button-on-a-default.toml",
    "operator-clashes.toml",
    "operator-common-speed.toml",
    "operator-curves.toml",
    "operator-enable.toml",
    "operator-end-here.toml",
    "operator-first-gear.toml",
    "operator-groups.toml",
    "operator-no-way-left.toml",
    "operator-one-button-twice.toml",
    "operator-one-control-twice.toml",
    "operator-points.toml",
    "operator-quiet-absent.toml",
    "operator-quiet-bad.toml",
    "operator-quiet-is-a-rig.toml",
    "operator-radial-feel.toml",
    "rig-coarse-stop.toml",
    "rig-lower-current.toml",
    "rig-pan-in-mm.toml",
    "rig-soft-stop.toml",
];

#[test]
fn no_file_of_a_wrong_shape_fits() {
    let mut names = Vec::new();
    let mut pairs = Vec::new();
    for (name, text) in files("tests/bad") {
        let (root, errors) = DeTable::parse_recoverable(&text);
        if !errors.is_empty() {
            continue;
        }
        let kinds = Kind::of(&Source::new("bad", text.as_str()));
        for kind in kinds.map_or(Kind::ALL.to_vec(), |kind| vec![kind]) {
            names.push(name.clone());
            pairs.push((schema(kind), table_json(root.get_ref())));
        }
    }
    assert!(names.len() > 40);
    let judged = judge(&pairs);
    let fits: BTreeSet<&str> = names
        .iter()
        .zip(&judged)
        .filter(|(_, wrong)| wrong.is_empty())
        .map(|(name, _)| name.as_str())
        .collect();
    assert_eq!(fits, SENSE.into_iter().collect(), "of the right shape");
}

/// The keys of a table as the reader lists them where it meets one it does not know.
fn keys(kind: Kind, text: &str) -> BTreeSet<String> {
    let source = Source::new("file", text);
    let problems: Option<Problems> = match kind {
        Kind::Rig => load_rig(&source).err(),
        Kind::Operator => load_operator(&source).err(),
        Kind::Quiet => load_quiet(&source).err(),
        Kind::Trim => load_trim(&source).err(),
    };
    let problems = problems.expect("an unknown key");
    let unknown = |p: &&stillhand::profile::Problem| p.found == "`zz`";
    let problem = problems.list().iter().find(unknown).expect("refused");
    let allowed = problem.allowed.replace(" or ", ", ");
    allowed.split(", ").map(str::to_owned).collect()
}

/// Every table of every kind of file, as a path into the schema and a file with an unknown key in it.
const TABLES: [(Kind, &str, &str); 26] = [
    (Kind::Rig, "", "zz = 1\n[rig]\n"),
    (Kind::Rig, "/rig", "[rig]\nzz = 1\n"),
    (Kind::Rig, "/axis/*", "[rig]\n[axis.a]\nzz = 1\n"),
    (
        Kind::Rig,
        "/axis/*/normal",
        "[rig]\n[axis.a]\nnormal = { zz = 1 }\n",
    ),
    (
        Kind::Rig,
        "/axis/*/stop/0",
        "[rig]\n[axis.a]\nstop = { zz = 1 }\n",
    ),
    (
        Kind::Rig,
        "/axis/*/stop/1",
        "[rig]\n[axis.a]\nstop = { plus = {}, zz = 1 }\n",
    ),
    (
        Kind::Rig,
        "/axis/*/stop/1/plus",
        "[rig]\n[axis.a]\nstop = { plus = { zz = 1 } }\n",
    ),
    (
        Kind::Rig,
        "/axis/*/drive",
        "[rig]\n[axis.a]\ndrive = { zz = 1 }\n",
    ),
    (Kind::Operator, "", "zz = 1\n[operator]\n"),
    (Kind::Operator, "/operator", "[operator]\nzz = 1\n"),
    (
        Kind::Operator,
        "/operator/wedge",
        "[operator]\nwedge = { zz = 1 }\n",
    ),
    (
        Kind::Operator,
        "/speed_trigger",
        "[operator]\n[speed_trigger]\nzz = 1\n",
    ),
    (Kind::Operator, "/axis/*", "[operator]\n[axis.a]\nzz = 1\n"),
    (
        Kind::Operator,
        "/axis/*/steady",
        "[operator]\n[axis.a]\nsteady = { zz = 1 }\n",
    ),
    (
        Kind::Operator,
        "/axis/*/control/1",
        "[operator]\n[axis.a]\ncontrol = { zz = 1 }\n",
    ),
    (
        Kind::Operator,
        "/axis/*/fine",
        "[operator]\n[axis.a]\nfine = { zz = 1 }\n",
    ),
    (
        Kind::Operator,
        "/axis/*/inch",
        "[operator]\n[axis.a]\ninch = { zz = 1 }\n",
    ),
    (
        Kind::Operator,
        "/buttons",
        "[operator]\n[buttons]\nzz = 1\n",
    ),
    (
        Kind::Operator,
        "/buttons/inch/*",
        "[operator]\n[buttons]\ninch = { a = { zz = 1 } }\n",
    ),
    (Kind::Quiet, "/quiet", "[quiet]\nzz = 1\n"),
    (Kind::Quiet, "/axis/*", "[quiet]\n[axis.a]\nzz = 1\n"),
    (Kind::Trim, "/trim", "[trim]\nzz = 1\n"),
    (Kind::Trim, "/stick", "[trim]\n[stick]\nzz = 1\n"),
    (Kind::Trim, "/stick/lx", "[trim]\n[stick.lx]\nzz = 1\n"),
    (Kind::Trim, "/trigger", "[trim]\n[trigger]\nzz = 1\n"),
    (Kind::Trim, "/trigger/lt", "[trim]\n[trigger.lt]\nzz = 1\n"),
];

/// The schema at a path: keys, `*` for any name, numbers for one of several shapes.
fn at(mut schema: &Value, path: &str) -> Value {
    for part in path.split('/').skip(1) {
        schema = match part {
            "*" => &schema["additionalProperties"],
            "0" => &schema["anyOf"][0],
            "1" => &schema["anyOf"][1],
            key => &schema["properties"][key],
        };
    }
    schema.clone()
}

#[test]
fn no_key_the_reader_knows_is_left_out() {
    for (kind, path, text) in TABLES {
        let table = at(&schema(kind), path);
        let described = table["properties"].as_object().expect(path).keys().cloned();
        let described: BTreeSet<String> = described.collect();
        assert_eq!(described, keys(kind, text), "{} {path}", kind.table());
    }
    for kind in Kind::ALL {
        // A key that is known and not described would be null, which is no schema at all.
        let asked: Vec<(Value, Value)> = vec![(schema(kind), json!({}))];
        assert!(
            !judge(&asked)[0].is_empty(),
            "an empty file lacks its top table"
        );
        walk(&schema(kind), &mut |value| {
            assert_ne!(*value, Value::Null, "{}", kind.table());
        });
    }
}

fn walk(value: &Value, look: &mut impl FnMut(&Value)) {
    look(value);
    match value {
        Value::Array(list) => list.iter().for_each(|inner| walk(inner, look)),
        Value::Object(map) => map.values().for_each(|inner| walk(inner, look)),
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
    }
}

/// Writing a default down changes nothing.
#[test]
fn defaults_are_those_of_the_reader() {
    let rig = "[rig]\nid = \"x\"\nport = \"sim\"\ndelay = \"10 ms\"\n[axis.a]\nscale = \"80 counts/deg\"\n\
        travel = [\"-9 deg\", \"9 deg\"]\nspeed = \"9 deg/s\"\n\
        normal = { accel = \"9 deg/s^2\", jerk = \"9 deg/s^3\" }\n\
        stop = { accel = \"99 deg/s^2\", jerk = \"99 deg/s^3\" }\n";
    let hands = "[operator]\nname = \"x\"\n[operator.wedge]\n[axis.a]\ncontrol = \"rx\"\n\
        gears = [\"1 deg/s\"]\n[buttons]\n";
    let load = |text: &str| load_rig(&Source::new("rig", text)).unwrap();
    let bench = load(rig);
    let resolve = |text: &str| {
        let file = load_operator(&Source::new("hands", text)).unwrap();
        file.resolve(std::slice::from_ref(&bench.rig)).unwrap()
    };
    let mut seen = 0;
    for (kind, path, header, base) in [
        (Kind::Rig, "/rig", "[rig]\n", rig),
        (Kind::Rig, "/axis/*", "[axis.a]\n", rig),
        (Kind::Operator, "/operator", "[operator]\n", hands),
        (
            Kind::Operator,
            "/operator/wedge",
            "[operator.wedge]\n",
            hands,
        ),
        (Kind::Operator, "/axis/*", "[axis.a]\n", hands),
        (Kind::Operator, "/buttons", "[buttons]\n", hands),
    ] {
        let table = at(&schema(kind), path);
        for (key, value) in table["properties"].as_object().unwrap() {
            let Some(default) = value.get("default") else {
                continue;
            };
            seen += 1;
            let text = base.replace(header, &format!("{header}{key} = {default}\n"));
            match kind {
                Kind::Rig => assert_eq!(load(&text), bench, "{key}"),
                Kind::Operator | Kind::Quiet | Kind::Trim => {
                    assert_eq!(resolve(&text), resolve(base), "{key}");
                }
            }
        }
    }
    assert!(seen > 15, "only {seen}");
}
