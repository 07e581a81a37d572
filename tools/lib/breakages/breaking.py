"""The list of breakages, and the copy of the tree in which they are made."""
import contextlib
import os
import pathlib
import subprocess
import tomllib


def read(top):
    """The breakages, in the order of the list."""
    path = pathlib.Path(top) / "tools" / "lib" / "breakages" / "list.toml"
    return tomllib.loads(path.read_text())["breakage"]


def stale(top, one):
    """What no longer fits, in words; None if all does."""
    path = pathlib.Path(top) / one["file"]
    if not path.is_file():
        return f"{one['name']}: there is no {one['file']}"
    found = path.read_text().count(one["old"])
    if found != 1:
        return f"{one['name']}: {one['file']} has {found} times, not once: {one['old']}"
    return None


class Copy:
    """A copy of the tree that only ever changes where the tree did, so that builds stay incremental."""

    def __init__(self, top):
        self.top = pathlib.Path(top)
        self.tree = self.top / "target" / "breakages" / "tree"
        listed = subprocess.run(["git", "ls-files", "-co", "--exclude-standard", "-z"], cwd=top,
                                check=True, capture_output=True, text=True).stdout
        names = [name for name in listed.split("\0") if name and (self.top / name).is_file()]
        for name in names:
            self.bring(name)
        kept = set(names)
        for path in list(self.tree.rglob("*")):
            if path.is_file() and str(path.relative_to(self.tree)) not in kept:
                path.unlink()

    def bring(self, name):
        """The file as it is in the tree."""
        wanted, copy = (self.top / name).read_bytes(), self.tree / name
        if not copy.is_file() or copy.read_bytes() != wanted:
            copy.parent.mkdir(parents=True, exist_ok=True)
            copy.write_bytes(wanted)
            copy.chmod((self.top / name).stat().st_mode)

    @contextlib.contextmanager
    def broken(self, one):
        """Makes a breakage, and puts it right again."""
        path = self.tree / one["file"]
        whole = path.read_text()
        path.write_text(whole.replace(one["old"], one["new"]))
        try:
            yield
        finally:
            path.write_text(whole)

    def cargo(self, *words, timeout, **surroundings):
        """Runs cargo there, with its output as text."""
        mine = {
            "CARGO_TARGET_DIR": str(self.top / "target" / "breakages" / "built"),
            "CARGO_PROFILE_RELEASE_INCREMENTAL": "true",
            "CARGO_PROFILE_RELEASE_DEBUG": "false",
            "CARGO_TERM_COLOR": "never",
        }
        return run(["cargo", *words], self.tree, {**os.environ, **mine, **surroundings}, timeout)

    def program(self, *words, timeout):
        """Runs the program built there."""
        built = self.top / "target" / "breakages" / "built" / "release" / "stillhand"
        return run([str(built), *words], self.tree, dict(os.environ), timeout)


def run(command, where, surroundings, timeout):
    """Exit code and output; a program that does not end is ended, with code None."""
    try:
        ran = subprocess.run(command, cwd=where, env=surroundings, timeout=timeout, check=False,
                             stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    except subprocess.TimeoutExpired as late:
        return None, (late.stdout or b"").decode(errors="replace")
    return ran.returncode, ran.stdout
