//! Who may move the rig.
