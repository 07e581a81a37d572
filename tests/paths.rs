//! Paths that lead to no text: each gives one problem that says what, where and how to mend it.

use std::fs;
use std::os::unix::ffi::OsStrExt;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use stillhand::cli::check::{Form, check};
use stillhand::cli::files::MOST_BYTES;

/// The output for one path, with the folder's own name taken out.
fn refusal(folder: &Path, name: &str) -> String {
    let outcome = check(&[folder.join(name)], Form::Plain);
    assert_eq!(outcome.exit, 1, "{}", outcome.text);
    outcome.text.replace(folder.to_str().unwrap(), "DIR")
}

fn expected(name: &str, message: &str, found: &str, mend: &str) -> String {
    format!(
        "error: {message}\n--> DIR/{name}\n \
         = found: {found}\n \
         = allowed: a TOML file: UTF-8 text of at most 1 MiB\n \
         = mend: {mend}\n\
         DIR/{name}: 1 problem\n"
    )
}

#[test]
fn each_wrong_path_says_why() {
    let temp = tempfile::tempdir().unwrap();
    let dir = temp.path();
    fs::create_dir(dir.join("folder")).unwrap();
    std::os::unix::fs::symlink("gone", dir.join("link")).unwrap();
    let contents: [(&str, Vec<u8>); 5] = [
        ("empty", Vec::new()),
        ("large", vec![b'#'; 10_000_000]),
        ("binary", b"[rig]\nid = \"\x7f\x00\"".to_vec()),
        ("latin1", b"[axis.pan]\nspeed = \"60 \xb0/s\"\n".to_vec()),
        ("utf16", b"\xff\xfe[\0r\0i\0g\0]\0".to_vec()),
    ];
    for (name, bytes) in contents {
        fs::write(dir.join(name), bytes).unwrap();
    }
    let pipe = std::ffi::CString::new(dir.join("pipe").as_os_str().as_bytes()).unwrap();
    // SAFETY: the path is a valid C string that lives through the call.
    assert_eq!(unsafe { libc::mkfifo(pipe.as_ptr(), 0o644) }, 0);
    let right_file = "check that it is the right file";
    for (name, message, found, mend) in [
        (
            "talk.toml",
            "there is no such file",
            "nothing of this name",
            "check the name",
        ),
        (
            "a/talk.toml",
            "there is no such file",
            "no folder DIR/a either",
            "check the path",
        ),
        (
            "folder",
            "this is a folder, not a file",
            "a folder",
            "name a file inside it",
        ),
        (
            "link",
            "this link points to a file that is not there",
            "a dangling symbolic link",
            "set the link anew, or name the file itself",
        ),
        (
            "pipe",
            "this is not an ordinary file",
            "a device, pipe or socket",
            "name an ordinary file",
        ),
        (
            "empty",
            "this file is empty",
            "0 bytes",
            "check whether the disk was full when it was saved; copy a shipped file anew",
        ),
        (
            "large",
            "this file is too large",
            "10000000 bytes",
            "check that it is the right file; rig files and profiles have a few kilobytes",
        ),
        (
            "binary",
            "this file is binary, not text",
            "a zero byte at line 2, byte 8",
            right_file,
        ),
        (
            "latin1",
            "this file is not UTF-8 text",
            "the byte 0xb0 at line 2, byte 13",
            "save it as UTF-8 in the editor, or take that character out",
        ),
        (
            "utf16",
            "this file is UTF-16 text",
            "the mark UTF-16 begins with",
            "save it as UTF-8 in the editor",
        ),
    ] {
        assert_eq!(refusal(dir, name), expected(name, message, found, mend));
    }
}

#[test]
fn the_size_limit_is_exact() {
    let temp = tempfile::tempdir().unwrap();
    let path = temp.path().join("bench.toml");
    let mut text = stillhand::profile::builtin::BENCH_RIG.text.to_owned();
    let room = MOST_BYTES as usize - text.len();
    text.push_str(&"#".repeat(room));
    fs::write(&path, &text).unwrap();
    assert_eq!(check(std::slice::from_ref(&path), Form::Plain).exit, 0);
    fs::write(&path, text + "#").unwrap();
    assert_eq!(check(&[path], Form::Plain).exit, 1);
}

#[test]
fn a_device_without_end_is_not_read() {
    let outcome = check(&["/dev/zero".into()], Form::Plain);
    assert!(
        outcome.text.contains("not an ordinary file"),
        "{}",
        outcome.text
    );
}

#[test]
fn missing_rights_are_said() {
    let temp = tempfile::tempdir().unwrap();
    let dir = temp.path().to_owned();
    fs::set_permissions(&dir, fs::Permissions::from_mode(0o755)).unwrap();
    fs::write(dir.join("shut"), "[rig]").unwrap();
    fs::set_permissions(dir.join("shut"), fs::Permissions::from_mode(0o000)).unwrap();
    fs::create_dir(dir.join("locked")).unwrap();
    fs::write(dir.join("locked/in"), "[rig]").unwrap();
    fs::set_permissions(dir.join("locked"), fs::Permissions::from_mode(0o000)).unwrap();
    let folder = dir.clone();
    let reader = std::thread::spawn(move || {
        become_nobody();
        (refusal(&folder, "shut"), refusal(&folder, "locked/in"))
    });
    let (shut, locked) = reader.join().unwrap();
    // Without this an ordinary user could not remove the folder.
    fs::set_permissions(dir.join("locked"), fs::Permissions::from_mode(0o755)).unwrap();
    let denied = "permission denied";
    let message = "this file may not be read by this user";
    let mend = "give this user the right to read it (chmod +r), or run as its owner";
    assert_eq!(shut, expected("shut", message, denied, mend));
    let message = "a folder on the way to this file may not be entered by this user";
    let mend = "give this user the right to enter it (chmod +x), or move the file";
    assert_eq!(locked, expected("locked/in", message, denied, mend));
}

/// Takes root's rights from this thread alone; an ordinary user has none to begin with.
fn become_nobody() {
    // SAFETY: both calls only take numbers. The raw call, unlike the C library's wrapper, changes
    // the calling thread only; this thread ends right after its one look.
    unsafe {
        if libc::geteuid() == 0 {
            assert_eq!(libc::syscall(libc::SYS_setresuid, -1, 65534, -1), 0);
        }
    }
}
