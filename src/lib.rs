//! stillhand
