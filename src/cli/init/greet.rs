//! Asks the rig at a port who it is. Nothing is moved: a greeting carries no speeds, and a rig in a
//! session of its own comes to rest when it is greeted anew.

use crate::link::port::{Moved, Port};
use crate::shell::clock::Clock;
use std::path::Path;
use std::time::Duration;
use stillhand_engine::time::Span;
use stillhand_wire::frame::RESYNC;
use stillhand_wire::messages::{RigHello, VERSION};
use stillhand_wire::{FromRig, FromRigDeframer, ToRig, encode};

/// Boards that start anew when their port is opened need a few seconds (common practice).
const PATIENCE: Span = Span::from_millis(6_000);
/// A greeting without an answer is said again after this long.
const ASK_AGAIN: Span = Span::from_millis(250);
/// Between two looks at the port.
const PAUSE: Duration = Duration::from_millis(5);

/// What the rig says of itself.
///
/// # Errors
/// In words: the port, or that nothing sensible came.
pub fn greet(path: &Path, baud: u32) -> Result<RigHello, String> {
    let mut port = Port::open(path, baud).map_err(|problem| problem.to_string())?;
    let clock = Clock::new();
    // Different from run to run, so that an answer to somebody else is not taken for ours.
    let session = (Clock::system().now().0 as u32 ^ std::process::id().rotate_left(16)).max(1);
    let hello = ToRig::Hello {
        version: VERSION,
        session,
    };
    let frame = encode(&hello).map_err(|_| "a greeting does not fit a frame".to_owned())?;
    let bytes: Vec<u8> = RESYNC.iter().chain(frame.iter()).copied().collect();
    let mut deframer = FromRigDeframer::new();
    let mut heard = 0;
    let (begun, mut asked) = (clock.now(), None);
    while clock.now().since(begun) < PATIENCE {
        let now = clock.now();
        if asked.is_none_or(|at| now.since(at) >= ASK_AGAIN) {
            // One that leaves in part is damaged and not answered; the next one begins anew.
            port.write(&bytes);
            asked = Some(now);
        }
        let mut buffer = [0; 512];
        match port.read(&mut buffer) {
            Moved::Gone => return Err(format!("port {}: it was unplugged", path.display())),
            Moved::None => std::thread::sleep(PAUSE),
            Moved::Bytes(count) => {
                heard += count;
                let mut answer = None;
                deframer.feed(buffer.get(..count).unwrap_or_default(), |message| {
                    if let FromRig::Hello(hello) = message
                        && hello.session == session
                    {
                        answer = Some(hello);
                    }
                });
                if let Some(hello) = answer {
                    return Ok(hello);
                }
            }
        }
    }
    Err(nothing(path, baud, heard))
}

fn nothing(path: &Path, baud: u32, heard: usize) -> String {
    let what = match heard {
        0 => "nothing was heard".to_owned(),
        bytes => format!("{bytes} bytes were heard, and no answer among them"),
    };
    format!(
        "port {}: {what} for {} s at {baud} baud. Is this the rig's port, is it switched on, does it \
         speak this protocol at this --baud?",
        path.display(),
        PATIENCE.secs()
    )
}
