//! The frame decoder, in both directions: any bytes, cut anywhere.

use super::page;
use std::fmt::Debug;
use stillhand_wire::frame::{Counts, MAX_FROM_RIG_FRAME, MAX_TO_RIG_FRAME};
use stillhand_wire::{Deframer, FromRig, Message, ToRig, encode};

/// Holds every claim about `bytes` as they come over the line, in pieces that end at `cuts` (anything; taken
/// modulo the length). Returns how many messages they were, to the rig and from it.
pub fn hold(bytes: &[u8], cuts: &[usize]) -> (usize, usize) {
    let to_rig = one_way::<ToRig, MAX_TO_RIG_FRAME>(bytes, cuts);
    let from_rig = one_way::<FromRig, MAX_FROM_RIG_FRAME>(bytes, cuts);
    (to_rig, from_rig)
}

fn one_way<M: Message + Debug + PartialEq, const N: usize>(bytes: &[u8], cuts: &[usize]) -> usize {
    let (whole, counts) = read::<M, N>(&[bytes]);
    let (parts, same) = read::<M, N>(&pieces(bytes, cuts));
    assert_eq!((&parts, same), (&whole, counts), "cut at {cuts:?}");

    let mut runs: Vec<&[u8]> = bytes.split(|byte| *byte == 0).collect();
    // What stands behind the last 0x00 has not ended yet.
    runs.pop();
    runs.retain(|run| !run.is_empty());
    let seen = counts.good + counts.damaged + counts.foreign;
    assert_eq!(seen as usize, runs.len(), "every run is counted once");
    assert_eq!(counts.good as usize, whole.len());

    // Runs too long for this direction are refused unread, so the page has no say in them.
    let intact = |run: &&&[u8]| run.len() < N && page::payload(run).is_some();
    let intact: Vec<_> = runs.iter().filter(intact).collect();
    assert_eq!(
        (counts.good + counts.foreign) as usize,
        intact.len(),
        "intact by the wire, and by the page"
    );
    let ours = |run: &&&&[u8]| page::payload(run).is_some_and(|p| p.first() == Some(&M::DIRECTION));
    assert!(whole.len() <= intact.iter().filter(ours).count());

    for message in &whole {
        let again = encode(message).expect("what came in a frame fits one");
        let (read_back, _) = read::<M, N>(&[&again]);
        assert_eq!(std::slice::from_ref(message), read_back);
    }
    whole.len()
}

/// The bytes in pieces.
pub fn pieces<'b>(bytes: &'b [u8], cuts: &[usize]) -> Vec<&'b [u8]> {
    let mut ends: Vec<usize> = cuts.iter().map(|cut| cut % (bytes.len() + 1)).collect();
    ends.push(bytes.len());
    ends.sort_unstable();
    let mut start = 0;
    let piece = |end: usize| &bytes[std::mem::replace(&mut start, end)..end];
    ends.into_iter().map(piece).collect()
}

fn read<M: Message, const N: usize>(pieces: &[&[u8]]) -> (Vec<M>, Counts) {
    let mut deframer = Deframer::<N>::new();
    let mut messages = Vec::new();
    for piece in pieces {
        deframer.feed(piece, |message| messages.push(message));
    }
    (messages, deframer.counts())
}
