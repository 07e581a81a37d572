use super::recorder::Recorder;
use super::*;
use std::sync::Arc;

#[test]
fn a_stopped_journal_says_why_once_and_for_all() {
    let standing = Standing::default();
    assert_eq!(standing.stopped(), None);
    standing.stop("the disk is full".to_owned());
    standing.stop("and then something else".to_owned());
    assert_eq!(standing.stopped().as_deref(), Some("the disk is full"));
}

#[test]
fn the_ring_is_empty_when_a_recorder_is_new() {
    let bounds = Bounds::default();
    let (_recorder, far) = Recorder::new(&bounds, Arc::new(Standing::default()));
    assert_eq!(far.slots(), 0);
}
