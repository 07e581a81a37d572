"""Holds each breakage against its net, and words what came of it."""
import json
import re
import sys
import time

from breaking import Copy

# Virtual hours of a session.
HOURS = "0.02"
# Sessions played at once, so that what is caught by the first ones costs no more than those.
STEPS = (10, 40, 150)
SEEDS = 200
# Seconds: far more than anything here takes on two shared cores.
BUILD = 1800
PLAY = 1800


def cast(top, breakages):
    """The rows, one for each breakage."""
    copy, rows = Copy(top), []
    for nth, one in enumerate(breakages, 1):
        began = time.monotonic()
        with copy.broken(one):
            found = against(copy, one)
        row = {key: one[key] for key in ("name", "law", "what", "file", "old", "new")}
        rows.append({**row, **found})
        took = time.monotonic() - began
        print(f"{nth} of {len(breakages)}, {took:.0f} s: {one['name']} ({one['law']}): "
              f"{words(found)}", file=sys.stderr, flush=True)
    return rows


def against(copy, one):
    net = one.get("net", "soak")
    if net == "soak":
        return played(copy, one.get("seeds", SEEDS))
    if net == "lint":
        code, said = copy.cargo("clippy", "-p", "stillhand-engine", "--lib", "--locked", "--", "-D",
                                "warnings", timeout=BUILD,
                                CLIPPY_CONF_DIR=str(copy.tree / "tools" / "lib" / "engine"))
        refused = code != 0 and "disallowed" in said
        return result(refused, "the engine's lint", None, [], said)
    return tested(copy, one, net)


def played(copy, most):
    """Random sessions, until one breaks."""
    code, said = copy.cargo("build", "--release", "--locked", "--bin", "stillhand", timeout=BUILD)
    if code != 0:
        return result(False, None, None, [], said)
    begin = 0
    while begin < most:
        step = next((step for step in STEPS if begin < step), most) - begin
        step = min(step, most - begin)
        code, said = copy.program("soak", "--seeds", str(step), "--from", str(begin), "--hours", HOURS,
                                  timeout=PLAY)
        first = re.search(r"^seed (\d+): ", said, re.M)
        if first:
            story = said[first.start():].split("\nseed ")[0]
            return result(True, catcher(story), int(first[1]) + 1, laws(story), said)
        # Ended by a signal, as a panic does, or by nobody.
        if code is None or code < 0:
            what = "a session that does not end" if code is None else "a panic"
            return result(True, what, begin + step, [], said)
        begin += step
    return result(False, None, most, [], said)


def catcher(story):
    if "reference model:" in story:
        return "the reference model"
    return "the checker" if laws(story) else "the sessions' own rules"


def laws(story):
    """The laws named, each once, the first one first."""
    return list(dict.fromkeys(re.findall(r"\blaw (\w+) broken", story)))


def tested(copy, one, net):
    """A test file, or a package's own tests, of which one has to fail."""
    which = ["--lib"] if net == "lib" else ["--test", net]
    package = ["--package", one["package"]] if "package" in one else []
    only = ["--", one["only"]] if "only" in one else []
    code, said = copy.cargo("test", "--release", "--locked", *package, *which, *only, timeout=BUILD)
    failed = re.findall(r"^test (\S+) \.\.\. FAILED", said, re.M)
    # The first panic ends the whole of a test program.
    failed = failed or re.findall(r"^thread '([^']+)'.* panicked at", said, re.M)
    where = f"{one['package']}, {net}" if "package" in one else f"tests/{net}.rs"
    caught = code != 0 and bool(failed)
    return result(caught, f"{where}: {failed[0]}" if caught else None, None, laws(said), said)


def result(caught, by, seeds, named, said):
    builds = "error: could not compile" not in said
    kept = {} if caught else {"said": said[-2000:], "builds": builds}
    return {"caught": caught, "by": by, "seeds": seeds, "laws": named, **kept}


def words(found):
    if not found["caught"] and not found["builds"]:
        return "DOES NOT BUILD"
    if not found["caught"]:
        return "NOT CAUGHT" + (f" in {found['seeds']} sessions" if found["seeds"] else "")
    named = f", law {', '.join(found['laws'])}" if found["laws"] else ""
    seeds = f", session {found['seeds']}" if found["seeds"] else ""
    return f"{found['by']}{named}{seeds}"


def as_json(rows):
    caught = sum(row["caught"] for row in rows)
    return json.dumps({"breakages": len(rows), "caught": caught, "rows": rows}, indent=2)


def as_table(rows):
    lines = ["| breakage | law | what is wrong | caught by |", "|---|---|---|---|"]
    lines += [f"| `{row['name']}` | {row['law']} | {row['what']} | {words(row)} |" for row in rows]
    return "\n".join(lines)
