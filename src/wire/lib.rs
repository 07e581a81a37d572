//! stillhand-wire
