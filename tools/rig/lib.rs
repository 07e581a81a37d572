//! stillhand-rig
