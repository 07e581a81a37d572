"""Seeds and a dictionary for a fuzz target, out of what the project ships.

    seeds.py TOP TARGET FOLDER DICTIONARY
"""

import pathlib
import re
import sys

# As in tests/support/claims/line.rs: what a piece of the input is.
TO_RIG, FROM_RIG, PASS = 1, 2, 3


def uncobs(run):
    """The bytes that COBS made this run of."""
    plain, at = bytearray(), 0
    while at < len(run):
        length = run[at]
        plain += run[at + 1 : at + length]
        at += length
        if length != 0xFF and at < len(run):
            plain.append(0)
    return bytes(plain)


def worked_frames(top):
    """The messages of the protocol's page: (what, message) with neither direction nor CRC."""
    page = (top / "src/wire/PROTOCOL.md").read_text()
    for block in re.findall(r"```\n((?:to|from) rig: .*?)```", page, re.S):
        head, *rows = block.splitlines()
        frame = bytes.fromhex(" ".join(rows))
        what = TO_RIG if head.startswith("to rig") else FROM_RIG
        yield what, uncobs(frame[:-1])[1:-4]


def pieces(top, cuts):
    """One seed for each message, and one of them all with time between."""
    seeds = [bytes([what, len(said)]) + said for what, said in worked_frames(top)]
    seeds.append(bytes([PASS, 20]).join(seeds))
    return [bytes(cuts) + seed for seed in seeds]


def texts(top, patterns):
    return [path.read_bytes() for pattern in patterns for path in sorted(top.glob(pattern))]


def seeds(top, target):
    if target == "frames":
        return pieces(top, [5, 11])
    if target == "line":
        return pieces(top, [])
    if target == "profile":
        return texts(top, ["profiles/*.toml", "tests/bad/*.toml"])
    # The daemon records one itself.
    if target == "journal":
        return []
    # A fuzzer makes more of short texts; the shipped one is hours of ramps.
    script = (top / "profiles/rehearsal.pad").read_text().splitlines()
    parts = ["\n".join(script[at : at + 12]).encode() for at in range(0, len(script), 40)]
    return parts + texts(top, ["src/shell/pad/script/problems.txt", "src/link/mischief/problems.txt"])


def words(top, target):
    """Words that the readers know, for the fuzzer to put in."""
    sources = {
        "profile": ["src/profile/*.rs", "profiles/*.toml"],
        "script": ["src/shell/pad/script/words.rs", "src/link/mischief.rs"],
    }.get(target, [])
    found = set()
    for text in texts(top, sources):
        found.update(re.findall(rb'"([A-Za-z0-9_/^%. -]{1,24})"', text))
        found.update(re.findall(rb"^(\[[a-z_.]+\])", text, re.M))
        found.update(re.findall(rb"^([a-z_]+ = )", text, re.M))
    return sorted(found)


def main():
    top, target, folder, dictionary = sys.argv[1:]
    top, folder = pathlib.Path(top), pathlib.Path(folder)
    for number, seed in enumerate(seeds(top, target)):
        (folder / f"{number:03}").write_bytes(seed)
    lines = "".join(f'"{word.decode()}"\n' for word in words(top, target))
    pathlib.Path(dictionary).write_text(lines)


main()
