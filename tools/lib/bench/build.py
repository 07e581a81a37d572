"""Builds what is measured and what measures it."""
import json
import os
import subprocess


class Failed(Exception):
    """In words, for whoever started it."""


class Built:
    """Where the executables are."""

    def __init__(self, executables, folder):
        self.stillhand = executables["stillhand"]
        self.tick = executables["bench-tick"]
        self.latency = executables["bench-latency"]
        self.edit = executables["bench-edit"]
        self.floor = os.path.join(folder, "bench-floor")
        self.passthru = os.path.join(folder, "bench-passthru.so")

    @staticmethod
    def run(*command, timeout=120):
        """Runs a program that answers with one line of JSON."""
        try:
            said = subprocess.run(command, capture_output=True, text=True, check=True, timeout=timeout)
            return json.loads(said.stdout)
        except subprocess.CalledProcessError as error:
            raise Failed(error.stderr.strip() or f"{command[0]} failed") from error
        except (subprocess.TimeoutExpired, ValueError) as error:
            raise Failed(f"{command[0]}: {error}") from error


def build(top):
    command = ["cargo", "build", "--release", "--locked", "--quiet", "--message-format",
               "json-render-diagnostics", "--bin", "stillhand",
               "--example", "bench-tick", "--example", "bench-latency",
               "--example", "bench-edit"]
    made = subprocess.run(command, cwd=top, stdout=subprocess.PIPE, text=True, check=False)
    if made.returncode != 0:
        raise Failed("the build failed")
    executables = {}
    for line in made.stdout.splitlines():
        artifact = json.loads(line)
        if artifact.get("executable"):
            executables[artifact["target"]["name"]] = artifact["executable"]
    folder = os.path.dirname(executables["bench-tick"])
    built = Built(executables, folder)
    here = os.path.dirname(os.path.realpath(__file__))
    cc = ["cc", "-O2", "-Wall", "-Wextra", "-Werror"]
    for source, out, more in [("floor.c", built.floor, []),
                              ("passthru.c", built.passthru, ["-shared", "-fPIC"])]:
        command = cc + more + ["-o", out, os.path.join(here, source)]
        if subprocess.run(command, check=False).returncode != 0:
            raise Failed(f"{source} was not compiled")
    return built
