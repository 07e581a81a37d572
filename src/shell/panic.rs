//! What a panic does: it ends the process at once.
//!
//! The profile's `panic = "abort"` would do the same, but tests can't be built with it, so that every
//! library they need would be built once with and once without it.

/// From now on a panic of any thread says what it was and ends the process: frames stop, and the rig's own
/// watchdog stops the motion. Nothing is unwound or caught, and no other thread drives on without the one
/// that is gone.
pub fn ends_the_process() {
    let tell = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |what| {
        tell(what);
        std::process::abort();
    }));
}

#[cfg(test)]
mod tests {
    use std::os::unix::process::ExitStatusExt;
    use std::process::Command;

    /// Tells this program, started anew, that it is the one that shall panic.
    const SHALL_PANIC: &str = "STILLHAND_TEST_SHALL_PANIC";

    #[test]
    fn no_thread_outlives_the_panic_of_another() {
        if std::env::var_os(SHALL_PANIC).is_some() {
            super::ends_the_process();
            let _ = std::thread::spawn(|| panic!("on purpose")).join();
            std::process::exit(0);
        }
        let ended = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", "--nocapture"])
            .arg("shell::panic::tests::no_thread_outlives_the_panic_of_another")
            .env(SHALL_PANIC, "yes")
            .output()
            .unwrap();
        assert_eq!(ended.status.signal(), Some(libc::SIGABRT), "{ended:?}");
        assert!(String::from_utf8_lossy(&ended.stderr).contains("on purpose"));
    }
}
