//! stillhand-laws
