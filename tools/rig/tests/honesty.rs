//! A microcontroller compiles this crate unchanged: no std, no floating point, no dependency but the wire.

use std::path::Path;

#[test]
fn no_std_no_floats_no_clock() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = 0;
    for crate_root in [root.to_path_buf(), root.join("../../src/wire")] {
        let lib = std::fs::read_to_string(crate_root.join("lib.rs")).expect("lib.rs");
        assert!(
            lib.contains("#![no_std]") && !lib.contains("extern crate"),
            "{crate_root:?}"
        );
        for entry in std::fs::read_dir(&crate_root).expect("crate") {
            let path = entry.expect("entry").path();
            if path.extension().is_some_and(|e| e == "rs") {
                let text = std::fs::read_to_string(&path).expect("source");
                for word in [
                    "f32",
                    "f64",
                    "std::",
                    "alloc::",
                    "Instant",
                    "unsafe",
                    "unwrap(",
                    "expect(\"",
                    "panic!",
                ] {
                    assert!(!text.contains(word), "{} has {word}", path.display());
                }
                files += 1;
            }
        }
    }
    assert!(files >= 12, "{files} files looked at");
    let manifest = std::fs::read_to_string(root.join("Cargo.toml")).expect("manifest");
    let (_, dependencies) = manifest.split_once("[dependencies]").expect("dependencies");
    assert_eq!(dependencies.trim(), "stillhand-wire.workspace = true");
}
