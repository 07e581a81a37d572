#!/usr/bin/env python3
"""Decoder and encoder of the rig protocol, written from src/wire/PROTOCOL.md alone.

    codec.py decode < bytes     one JSON object per frame or damaged run:
                                {"ok": {"to_rig": {...}}} or {"bad": "crc", "bytes": 12}
    codec.py encode < lines     JSON lines {"to_rig": {...}} / {"from_rig": {...}} to bytes

Only the standard library, so that it shares nothing with the programs it checks.
"""

import json
import sys

U8, I8, BOOL, U16, U32, I32 = "u8 i8 bool u16 u32 i32".split()


class Invalid(ValueError):
    """The bytes, or the values to encode, are not a message."""


# Types are tuples; section numbers are those of the page.
def listing(item, most):
    return ("list", item, most)


def text(most):
    return ("text", most)


def option(item):
    return ("option", item)


def pair(*items):
    return ("pair", items)


def enum(*names):
    return ("enum", names)


def struct(**fields):
    return ("struct", fields)


RAMP = struct(accel=U32, jerk=U32)
AXIS_SETUP = struct(travel=option(pair(I32, I32)), stop_plus=RAMP, stop_minus=RAMP)
SETUP = struct(session=U32, watchdog_ms=U16, axes=listing(AXIS_SETUP, 8))
AXIS_HELLO = struct(
    name=text(16), counts=U32, per_units=U32, unit=enum("Deg", "Mm"),
    max_speed=U32, max_accel=U32, max_jerk=U32,
    own_ramps=BOOL, referenced=BOOL, position=I32, velocity=I32,
)
WHY = enum(
    "Version", "WrongSession", "OldSession", "NotAtRest", "AxisCount",
    "BadTravel", "BadRamp", "BadWatchdog", "AlreadySet", "PowerOff",
)
NOT_REFERENCED = enum("NoAxis", "NotAtRest", "Already", "OutsideTravel")
AXIS_TELEMETRY = struct(at_applied=I32, position=I32, velocity=I32)

TO_RIG = (  # section 3
    ("Hello", struct(version=U8, session=U32)),
    ("Setup", SETUP),
    ("Velocity", struct(session=U32, seq=U32, deadline_us=U32, velocity=listing(I32, 8))),
    ("Reference", struct(
        session=U32, number=U32, deadline_us=U32, axis=U8, position=I32, again=BOOL,
    )),
    ("Standstill", struct(session=U32, number=U32, deadline_us=U32, lower=U8)),
)
FROM_RIG = (  # section 4
    ("Hello", struct(
        version=U8, session=U32, rig_id=text(32), boot_id=U32, clock_us=U32,
        axes=listing(AXIS_HELLO, 8),
    )),
    ("Ack", struct(setup=SETUP)),
    ("Refused", struct(session=U32, why=WHY)),
    ("Telemetry", struct(
        session=U32, clock_us=U32, applied=U32, accepted=U32, axes=listing(AXIS_TELEMETRY, 8),
        power=BOOL, stop_input=BOOL, energised=BOOL, brakes=U8, faults=U16, held=U8, at_end=U8,
        referenced=U8, supply_mv=option(U16), drive_c=option(I8), frames_refused=U32,
    )),
    ("Referenced", struct(session=U32, number=U32, refused=option(NOT_REFERENCED))),
    ("Standstill", struct(session=U32, number=U32, can=U8, lowered=U8)),
)
DIRECTIONS = (("to_rig", TO_RIG, 266), ("from_rig", FROM_RIG, 499))
LONGEST = max(most for _, _, most in DIRECTIONS)


def crc32(data):
    """Section 1, bit by bit."""
    crc = 0xFFFFFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ (0xEDB88320 if crc & 1 else 0)
    return crc ^ 0xFFFFFFFF


def cobs_encode(data):
    out = bytearray()
    pieces = bytes(data).split(b"\0")
    for number, piece in enumerate(pieces):
        last = number == len(pieces) - 1
        while len(piece) >= 254:
            out += b"\xff" + piece[:254]
            piece = piece[254:]
            if not piece and last:
                return bytes(out)
        out += bytes([len(piece) + 1]) + piece
    return bytes(out)


def cobs_decode(data):
    out = bytearray()
    at = 0
    while at < len(data):
        n = data[at]
        piece = data[at + 1:at + n]
        if n == 0 or len(piece) != n - 1 or 0 in piece:
            raise Invalid("cobs")
        out += piece
        at += n
        if n != 0xFF and at < len(data):
            out.append(0)
    return bytes(out)


class Reader:
    def __init__(self, data):
        self.data, self.at = data, 0

    def take(self, n):
        if self.at + n > len(self.data):
            raise Invalid("too short")
        self.at += n
        return self.data[self.at - n:self.at]

    def varint(self, bits):
        value = 0
        for i in range((bits + 6) // 7):
            byte = self.take(1)[0]
            value |= (byte & 0x7F) << (7 * i)
            if byte < 0x80:
                if value >= 1 << bits:
                    raise Invalid("number too large")
                return value
        raise Invalid("number too long")


def read(r, kind):
    if kind == U8:
        return r.take(1)[0]
    if kind == I8:
        return int.from_bytes(r.take(1), "little", signed=True)
    if kind == BOOL:
        byte = r.take(1)[0]
        if byte > 1:
            raise Invalid("bool")
        return byte == 1
    if kind == U16:
        return r.varint(16)
    if kind == U32:
        return r.varint(32)
    if kind == I32:
        z = r.varint(32)
        return (z >> 1) ^ -(z & 1)
    tag, what = kind[0], kind[1]
    if tag == "text":
        n = r.varint(32)
        if n > what:
            raise Invalid("text too long")
        try:
            return r.take(n).decode("utf-8")
        except UnicodeDecodeError:
            raise Invalid("utf-8") from None
    if tag == "list":
        n = r.varint(32)
        if n > kind[2]:
            raise Invalid("list too long")
        return [read(r, what) for _ in range(n)]
    if tag == "option":
        return read(r, what) if read(r, BOOL) else None
    if tag == "pair":
        return [read(r, item) for item in what]
    if tag == "enum":
        n = r.varint(32)
        if n >= len(what):
            raise Invalid("enum")
        return what[n]
    return {name: read(r, item) for name, item in what.items()}


def varint(value, bits):
    if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value < 1 << bits:
        raise Invalid(f"{value!r} is no u{bits}")
    out = bytearray()
    while value >= 0x80:
        out.append(value & 0x7F | 0x80)
        value >>= 7
    out.append(value)
    return bytes(out)


def write(kind, value):
    if kind == U8:
        return varint(value, 8) and bytes([value])
    if kind == I8:
        return value.to_bytes(1, "little", signed=True)
    if kind == BOOL:
        return b"\x01" if value else b"\x00"
    if kind == U16:
        return varint(value, 16)
    if kind == U32:
        return varint(value, 32)
    if kind == I32:
        if not -(1 << 31) <= value < 1 << 31:
            raise Invalid(f"{value!r} is no i32")
        return varint((value << 1) ^ (value >> 31), 32)
    tag, what = kind[0], kind[1]
    if tag == "text":
        data = value.encode("utf-8")
        if len(data) > what:
            raise Invalid("text too long")
        return varint(len(data), 32) + data
    if tag == "list":
        if len(value) > kind[2]:
            raise Invalid("list too long")
        return varint(len(value), 32) + b"".join(write(what, item) for item in value)
    if tag == "option":
        return b"\x00" if value is None else b"\x01" + write(what, value)
    if tag == "pair":
        if len(value) != len(what):
            raise Invalid("pair")
        return b"".join(write(item, v) for item, v in zip(what, value))
    if tag == "enum":
        return varint(what.index(value), 32)
    if set(value) != set(what):
        raise Invalid(f"fields {sorted(set(value) ^ set(what))}")
    return b"".join(write(item, value[name]) for name, item in what.items())


def decode_run(run):
    """One run of bytes without its 0x00: {direction: {message: fields}}."""
    if len(run) >= LONGEST:
        raise Invalid("overlong")
    plain = cobs_decode(run)
    if len(plain) < 5 or crc32(plain[:-4]).to_bytes(4, "little") != plain[-4:]:
        raise Invalid("crc")
    r = Reader(plain[:-4])
    direction = r.take(1)[0]
    if direction >= len(DIRECTIONS):
        raise Invalid("direction")
    name, messages, longest = DIRECTIONS[direction]
    if len(run) >= longest:
        raise Invalid("overlong")
    number = r.varint(32)
    if number >= len(messages):
        raise Invalid("message")
    message, kind = messages[number]
    fields = read(r, kind)
    if r.at != len(r.data):
        raise Invalid("bytes left over")
    return {name: {message: fields}}


def encode_frame(message):
    """The inverse of decode_run, with the 0x00."""
    (name, inner), = message.items()
    (variant, fields), = inner.items()
    for direction, (known, messages, _) in enumerate(DIRECTIONS):
        for number, (label, kind) in enumerate(messages):
            if (known, label) == (name, variant):
                payload = bytes([direction]) + varint(number, 32) + write(kind, fields)
                return cobs_encode(payload + crc32(payload).to_bytes(4, "little")) + b"\0"
    raise Invalid(f"no message {name} {variant}")


def decode_stream(stream, out):
    """Reads runs as they come; says what each one was. What follows the last 0x00 is unfinished and not reported."""
    run = bytearray()
    while chunk := stream.read1(65536):
        for byte in chunk:
            if byte:
                run.append(byte)
            elif run:
                try:
                    report = {"ok": decode_run(bytes(run))}
                except Invalid as problem:
                    report = {"bad": str(problem), "bytes": len(run)}
                print(json.dumps(report), file=out, flush=True)
                run.clear()


def main():
    if sys.argv[1:] == ["decode"]:
        decode_stream(sys.stdin.buffer, sys.stdout)
    elif sys.argv[1:] == ["encode"]:
        for line in sys.stdin:
            try:
                frame = encode_frame(json.loads(line))
            except (ValueError, AttributeError, TypeError, OverflowError) as problem:
                sys.exit(f"cannot encode {line.strip()}: {problem}")
            sys.stdout.buffer.write(frame)
            sys.stdout.buffer.flush()
    else:
        sys.exit(__doc__)


if __name__ == "__main__":
    main()
