"""Names the machine that figures were taken on: without it they mean nothing."""
import datetime
import os
import platform
import subprocess


def first_line(command, folder):
    """What a command says, or None where there is no such command or it fails."""
    try:
        said = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=True)
    except (OSError, subprocess.CalledProcessError):
        return None
    return said.stdout.strip().split("\n")[0]


def processor():
    with open("/proc/cpuinfo", encoding="utf-8") as lines:
        for line in lines:
            if line.startswith("model name"):
                return line.split(":", 1)[1].strip()
    return platform.machine()


def describe(top):
    changed = first_line(["git", "status", "--porcelain"], top)
    return {
        "cpu": processor(),
        "cores": len(os.sched_getaffinity(0)),
        "load_15_min": os.getloadavg()[2],
        "kernel": platform.release(),
        "date": datetime.datetime.now(datetime.timezone.utc).isoformat(timespec="seconds"),
        "commit": first_line(["git", "rev-parse", "--short", "HEAD"], top),
        "changed_since": None if changed is None else bool(changed),
        "rustc": first_line(["rustc", "--version"], top),
    }
