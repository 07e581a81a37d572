"""The figures, each with its aim and its bound.

Where nothing else is said, the bound is twice the aim: beyond that it is not the machine's mood."""

# What the engine may take of a turn, in microseconds, for eight axes: 10 of 1000 at the highest rate.
TURN_AIM, TURN_BOUND = 10, 50
# A loop later than this stops the rig, in microseconds.
STOPS_THE_RIG = 80_000
# From a stick to the line at 250 Hz, in milliseconds: one period, and half a millisecond to get there.
LATENCY_AIM = 4.5
# From the rename of an edited file to the first frame with the new feel, in milliseconds: 100 of them
# are the quiet that is waited for.
EDIT_AIM = 250
# Share of a core, in percent, and peak memory, in MB.
LOAD_AIM, MEMORY_AIM = 3, 25
# A turn with all that can be switched on, against one with sticks and guard alone.
ALL_ON = 1.25
# Reading a recording of a survey, in percent of its length, peak memory in MB, and by how much that grows
# with a recording of three times the length: 200 bytes of envelope and as much again to work with, a second.
SURVEY_AIM, SURVEY_MEMORY_AIM, SURVEY_GROWTH_AIM = 1, 40, 5
# Calls of write besides those for frames: greeting and setup of the rig, a few times over.
OTHER_WRITES = 10


class Sheet:
    """What was measured."""

    def __init__(self):
        self.rows = []

    def add(self, name, value, unit, aim=None, bound=None, **more):
        """A figure. Without aim and bound it only says how things are."""
        known = value is not None
        self.rows.append({
            "name": name,
            "value": round(value, 3) if known else None,
            "unit": unit,
            "aim": aim,
            "bound": bound,
            "aim_met": None if aim is None else known and value <= aim,
            "ok": bound is None or known and value <= bound,
            **more,
        })

    def ok(self, counts_only):
        return all(row["ok"] for row in self.rows if not counts_only or row["unit"] == "count")

    def table(self):
        lines = [f"{'figure':46} {'value':>10} {'aim':>8} {'bound':>8}"]
        for row in self.rows:
            value, aim, bound = ("" if n is None else f"{n:g}" for n in (row["value"], row["aim"], row["bound"]))
            verdict = "NOT OK" if not row["ok"] else "aim missed" if row["aim_met"] is False else ""
            lines.append(f"{row['name']:46} {value:>10} {aim:>8} {bound:>8} {row['unit']:6} {verdict}")
        return "\n".join(lines)


def turns(sheet, said):
    for kind in ("guarded", "braking", "free", "operating", "recorded"):
        row = said[kind]
        for share in ("p50", "p99", "p999", "max"):
            judged = {"aim": TURN_AIM, "bound": TURN_BOUND} if share == "p99" else {}
            sheet.add(f"turn.8_axes.{kind}.{share}", row[share], "us", **judged, ticks=row["ticks"])
    more = said["operating"]["p50"] / said["guarded"]["p50"]
    sheet.add("turn.8_axes.operating.over_guarded", more, "times", aim=ALL_ON, bound=2 * ALL_ON)
    row = said["allocations"]
    sheet.add("turn.allocations.most", row["most"], "count", aim=0, bound=0, ticks=row["ticks"])
    must = {"guard", "gear", "stop", "pad lost", "link lost", "driving", "end", "withheld",
            "profile change"}
    missed = sorted(must - set(row["happened"]))
    sheet.add("turn.allocations.not_tried", len(missed), "count", aim=0, bound=0, missed=missed)


def lateness(sheet, rate, busy, real_time, row):
    name = f"loop.{rate}_hz.{'busy' if busy else 'idle'}.{'fifo' if real_time else 'ordinary'}"
    if row is None:
        sheet.add(name, None, "us", why="no real-time scheduling for this user")
        return
    period = 1e6 / rate
    # A turn later than a period is left out. Nothing is promised without real-time scheduling: a
    # quarter second has been seen, and the loop says at start what it got.
    p99 = {"aim": period / 10, "bound": period} if real_time else {"aim": period}
    # Lateness is taken where a turn begins. One that stalls while it works is in none of these
    # figures, so what the rig feels is judged by the longest pause between two turns.
    pause = (1 + row["longest_overrun"]) * period
    judged = {"aim": 2 * period, "bound": STOPS_THE_RIG} if real_time else {"aim": STOPS_THE_RIG}
    # A run is withheld once, at its start; the rehearsal's own stop comes later than any run here.
    stops = {"aim": 0, "bound": 0} if real_time else {"aim": 0}
    sheet.add(f"{name}.p50", row["late_p50_us"], "us")
    sheet.add(f"{name}.p99", row["late_p99_us"], "us", **p99)
    sheet.add(f"{name}.p999", row["late_p999_us"], "us")
    sheet.add(f"{name}.max", row["late_max_us"], "us")
    sheet.add(f"{name}.longest_pause", pause, "us", **judged)
    sheet.add(f"{name}.stopped", row["withheld"] - 1, "stops", **stops)
    sheet.add(f"{name}.left_out", row["overruns"], "turns")


def latency(sheet, said):
    watched = said["watched_in_real_time"]
    for who in ("floor", "daemon"):
        row = said[who]
        more = {"pushes": row["pushes"], "watched_in_real_time": watched}
        judged = {"aim": LATENCY_AIM, "bound": 2 * LATENCY_AIM} if who == "daemon" else {}
        sheet.add(f"stick_to_line.{who}.p50", row["p50"], "ms", **more)
        sheet.add(f"stick_to_line.{who}.p99", row["p99"], "ms", **judged, **more)
        sheet.add(f"stick_to_line.{who}.max", row["max"], "ms", **more)


def edits(sheet, row):
    for share in ("p50", "p99", "max"):
        judged = {"aim": EDIT_AIM, "bound": 2 * EDIT_AIM} if share == "p99" else {}
        sheet.add(f"edit_to_line.{share}", row[share], "ms", **judged, edits=row["edits"])


def writes(sheet, said):
    frames = said["frames"]
    others = said["calls"] - frames
    # Fewer calls than frames, or none at all, would mean that the calls were not seen.
    seen = frames > 0 and others >= 0
    sheet.add("writes.besides_one_a_frame", others if seen else None, "count",
              aim=OTHER_WRITES, bound=OTHER_WRITES, frames=frames, calls=said["calls"])
    # Of the one thread that writes to the port, the loop's: such a call costs it its punctuality.
    sheet.add("loop.calls_that_may_wait", said["waits"], "count", aim=0, bound=0)


def load(sheet, said):
    sheet.add("daemon.share_of_a_core", said["share"], "%", aim=LOAD_AIM, bound=2 * LOAD_AIM)
    sheet.add("daemon.peak_memory", said["memory"], "MB", aim=MEMORY_AIM, bound=2 * MEMORY_AIM)
    still = int(said["moved"] <= 0)
    sheet.add("daemon.stood_still_meanwhile", still, "count", aim=0, bound=0)


def survey(sheet, row):
    share = 100 * row["took"] / row["seconds"]
    sheet.add("survey.read.share_of_length", share, "%", aim=SURVEY_AIM, bound=2 * SURVEY_AIM,
              seconds=row["seconds"], times_real_time=round(row["seconds"] / row["took"]))
    sheet.add("survey.read.memory", row["memory"], "MB", aim=SURVEY_MEMORY_AIM, bound=2 * SURVEY_MEMORY_AIM)
    sheet.add("survey.read.memory_growth", row["longer_memory"] - row["memory"], "MB",
              aim=SURVEY_GROWTH_AIM, bound=2 * SURVEY_GROWTH_AIM, seconds=row["longer_seconds"])
