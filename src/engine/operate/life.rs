//! Pad life: a moving axis must have a live pad behind it.
//!
//! A radio pad that goes out of range with its stick held over says nothing, and neither does the
//! kernel for up to half a minute. So silence itself is bounded, by how far the present motion
//! would go meanwhile. Of a pad whose raw reports come all the time, silence tells itself.

use crate::input::PadBus;
use crate::time::Span;
use crate::units::Unit;

/// A motion may cover this much while its pad is silent, in degrees.
const SILENT_DEG: f64 = 30.0;
/// A motion may cover this much while its pad is silent, in millimetres.
const SILENT_MM: f64 = 300.0;
/// A stick held still over a radio sends nothing; shorter bounds stop honest slow moves.
const BLUETOOTH_LEAST: Span = Span::from_millis(2_000);
/// A USB pad may be a receiver, but mostly it is a cable whose unplug is reported at once.
const USB_LEAST: Span = Span::from_millis(10_000);
/// A pad that streams has left out six reports or more by then: it is taken for one that streams from 20 a
/// second on. Shorter gaps are common by radio.
pub const STREAMING_BOUND: Span = Span::from_millis(300);
/// However slow the motion, nobody holds a stick still for longer.
const MOST: Span = Span::from_millis(60_000);

/// How long a pad on `bus` may be silent while an axis in `unit` moves at `speed` units/s; `None`
/// if its silence has no bound.
pub fn silence_bound(bus: PadBus, unit: Unit, speed: f64) -> Option<Span> {
    let least = match bus {
        PadBus::Wired => return None,
        PadBus::Usb => USB_LEAST,
        PadBus::Bluetooth => BLUETOOTH_LEAST,
        PadBus::Streaming => return Some(STREAMING_BOUND),
    };
    let way = match unit {
        Unit::Deg => SILENT_DEG,
        Unit::Mm => SILENT_MM,
    };
    if speed == 0.0 {
        return Some(MOST);
    }
    let bound = Span::from_secs_f64(way / speed.abs()).shorter(MOST);
    Some(if bound < least { least } else { bound })
}

#[cfg(test)]
mod tests;
