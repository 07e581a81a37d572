//! stillhand-engine
