"""How long the reading of a recording takes, and what memory."""
import os
import shutil
import subprocess
import tempfile
import time

import build

RATE = 48_000
# Of a sample: 24 bits.
BYTES = 3
# How much longer the longer recording is.
LONGER = 3


def run(command, folder):
    """Seconds and peak memory in MB of a program. The memory is what the kernel's own mark says while it
    runs: what it says afterwards holds that of this program, which made it."""
    began = time.monotonic()
    peak = 0
    with subprocess.Popen(command, cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE,
                          text=True) as process:
        while process.poll() is None:
            peak = max(peak, high_water(process.pid))
            time.sleep(0.002)
        took = time.monotonic() - began
        said = process.stderr.read()
    if process.returncode != 0:
        raise build.Failed(said.strip())
    return took, peak / 1024


def high_water(pid):
    """The most memory a process has had, in kB; 0 once it is gone."""
    try:
        with open(f"/proc/{pid}/status", encoding="ascii") as status:
            lines = [line for line in status if line.startswith("VmHWM")]
    except OSError:
        return 0
    return int(lines[0].split()[1]) if lines else 0


def lengthened(source, target):
    """The same recording with the room going on: seconds of both. A piece at a time: what this program
    holds counts as memory of those it starts."""
    with open(source, "rb") as file, open(target, "wb") as longer:
        head = bytearray(file.read(4096))
        at = head.index(b"data") + 8
        length = int.from_bytes(head[at - 4:at], "little")
        file.seek(at)
        room = file.read(5 * RATE * BYTES)
        more = (LONGER - 1) * length // len(room)
        head[at - 4:at] = (length + more * len(room)).to_bytes(4, "little")
        head[4:8] = (at - 8 + length + more * len(room)).to_bytes(4, "little")
        longer.write(head[:at])
        file.seek(at)
        shutil.copyfileobj(file, longer, 1 << 16)
        for _ in range(more):
            longer.write(room)
    return length / RATE / BYTES, (length + more * len(room)) / RATE / BYTES


def reading(built, top, quick):
    """Reads a made-up survey of the bench rig, and the same in a longer recording."""
    axes = ["--axis", "pan"] if quick else []
    rig = os.path.join(top, "profiles", "bench.toml")
    with tempfile.TemporaryDirectory() as folder:
        survey = [built.stillhand, "survey"]
        run(survey + ["plan", "--rig", rig, "--out", "plan.toml"] + axes, folder)
        run(survey + ["demo", "--plan", "plan.toml", "--seed", "3", "--out", "short.wav"], folder)
        short = os.path.join(folder, "short.wav")
        seconds, longer_seconds = lengthened(short, os.path.join(folder, "long.wav"))
        read = survey + ["read", "--plan", "plan.toml"]
        took, memory = min(run(read + ["short.wav"], folder) for _ in range(3))
        _, longer_memory = run(read + ["long.wav"], folder)
    return {"took": took, "seconds": seconds, "memory": memory,
            "longer_memory": longer_memory, "longer_seconds": longer_seconds}
