//! The one entry.
/// placeholder
pub struct Engine;
/// placeholder
pub enum EngineError {}
