"""Runs the shipped daemon and looks at it from outside."""
import contextlib
import ctypes
import json
import os
import re
import subprocess
import sys
import tempfile
import time

from build import Failed

# linux/prctl.h and linux/capability.h
PR_CAPBSET_DROP = 24
CAP_SYS_NICE = 23
# Calls that write, and such as may wait for a device or its driver.
WRITING = ["write", "writev", "pwrite64", "sendto", "sendmsg"]
WAITING = ["read", "readv", "poll", "ppoll", "select", "pselect6", "epoll_wait", "epoll_pwait", "fsync", "ioctl"]
# Beyond what a run was asked for: start, handshake, the last stop.
PATIENCE = 30


def paces(quick):
    """(rate in Hz, whether all cores are busy, whether in real time)"""
    rates = [250] if quick else [250, 1000]
    return [(rate, busy, real_time) for rate in rates for busy in (False, True)
            for real_time in (True, False) if real_time or not quick]


def ordinary_priority():
    """In a child: takes away the right to real-time scheduling, which root always has otherwise."""
    import resource
    libc = ctypes.CDLL(None, use_errno=True)
    libc.prctl(PR_CAPBSET_DROP, CAP_SYS_NICE, 0, 0, 0)
    resource.setrlimit(resource.RLIMIT_RTPRIO, (0, 0))


@contextlib.contextmanager
def all_cores_busy(busy):
    count = len(os.sched_getaffinity(0)) if busy else 0
    spinning = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(count)]
    try:
        yield
    finally:
        for process in spinning:
            process.kill()
            process.wait()


def command(built, seconds, *more):
    script = os.path.join(os.path.dirname(__file__), "..", "..", "..", "profiles", "rehearsal.pad")
    return [built.stillhand, "run", "--pad", "script:" + os.path.normpath(script),
            "--for", f"{seconds}s", "--json", *more]


def summary(said, log):
    """The last line of what the daemon printed."""
    try:
        return json.loads(said.strip().splitlines()[-1])
    except (IndexError, ValueError) as error:
        raise Failed("the daemon gave no summary; its log ends: " + log[-400:]) from error


def lateness(built, rate, busy, real_time, seconds):
    """The `loop` row of a run, and whether it ran in real time; None if that is not permitted."""
    before = None if real_time else ordinary_priority
    with all_cores_busy(busy):
        run = subprocess.run(command(built, seconds, "--rate", str(rate)), capture_output=True, text=True,
                             preexec_fn=before, timeout=seconds + PATIENCE, check=False)
    got = "loop runs in real time" in run.stderr
    if got != real_time:
        if real_time:
            return None
        raise Failed("the daemon has real-time scheduling although it was taken away")
    row = summary(run.stdout, run.stderr)
    return {**row["loop"], "withheld": len(row["withheld"])}


def writes(built, seconds):
    """How many calls wrote to the port, how many frames left, and how often the thread that wrote them made
    a call that may wait from its first frame on: while a thread starts, the C library asks the kernel how
    many processors there are."""
    rig = subprocess.Popen([built.stillhand, "bench-rig"], stdout=subprocess.PIPE, text=True)
    try:
        port = rig.stdout.readline().strip()
        with tempfile.NamedTemporaryFile("r") as trace:
            run = subprocess.run(["strace", "-f", "-qq", "-y", "-o", trace.name, "-e",
                                  "trace=" + ",".join(WRITING + WAITING),
                                  *command(built, seconds, "--port", port)],
                                 capture_output=True, text=True, timeout=seconds + PATIENCE, check=False)
            said = trace.read()
    finally:
        rig.kill()
        rig.wait()
    # THREAD write(FD</dev/pts/N>..., and the port may have "<char ...>" behind its name.
    wrote = re.compile(rf"^(\d+) +(?:{'|'.join(WRITING)})\(\d+<{re.escape(port)}[<>]", re.MULTILINE)
    began = {}
    for call in wrote.finditer(said):
        began.setdefault(call[1], call.end())
    waits = sum(len(re.findall(rf"^{thread} +(?:{'|'.join(WAITING)})\(", said[start:], re.MULTILINE))
                for thread, start in began.items())
    return {"calls": len(wrote.findall(said)), "frames": summary(run.stdout, run.stderr)["link"]["sent"],
            "waits": waits if began else None}


def ticks_of(pid):
    """Processor time used so far, in clock ticks: fields 14 and 15 of proc(5)'s stat."""
    with open(f"/proc/{pid}/stat", encoding="utf-8") as stat:
        fields = stat.read().rsplit(")", 1)[1].split()
    return int(fields[11]) + int(fields[12])


def peak_memory_mb(pid):
    with open(f"/proc/{pid}/status", encoding="utf-8") as status:
        kilobytes = re.search(r"^VmHWM:\s+(\d+) kB", status.read(), re.MULTILINE)
    return int(kilobytes[1]) * 1024 / 1e6


def load(built, seconds):
    """Share of a core over this time of the rehearsal, and the peak of memory after it."""
    # The rehearsal rests for its first second, and the daemon has to start.
    run = subprocess.Popen(command(built, seconds + 4), stdout=subprocess.PIPE,
                           stderr=subprocess.PIPE, text=True)
    try:
        time.sleep(3)
        used, begin = ticks_of(run.pid), time.monotonic()
        time.sleep(seconds)
        used, lasted = ticks_of(run.pid) - used, time.monotonic() - begin
        memory = peak_memory_mb(run.pid)
        said, log = run.communicate(timeout=PATIENCE)
    finally:
        if run.poll() is None:
            run.kill()
            run.wait()
    moved = sum(axis["distance"] for axis in summary(said, log)["axes"].values())
    share = 100 * used / os.sysconf("SC_CLK_TCK") / lasted
    return {"share": share, "memory": memory, "moved": moved}
