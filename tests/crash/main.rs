//! Checks that a crash counts as a failure. On Linux it always does; in Wine a debugger can turn a crash into
//! success, so `cargo xtask windows` makes this suite crash, and requires that it fails.

/// The variable that requests the crash.
const VARIABLE: &str = "PLUMBLINE_TEST_CRASH";

/// Not a test: crashes if requested.
#[test]
fn victim() {
    if std::env::var_os(VARIABLE).is_some() {
        // SAFETY: none. Nothing is mapped at address 8 on any system that runs this; the fault is intended.
        unsafe { std::ptr::with_exposed_provenance::<u8>(8).read_volatile() };
    }
}

#[test]
fn a_program_that_crashes_has_no_good_end_and_tells_no_result() {
    if std::env::var_os(VARIABLE).is_some() {
        return;
    }
    let run = |crash: bool| {
        let mut command =
            std::process::Command::new(std::env::current_exe().expect("this program has a path"));
        command.args(["victim", "--exact", "--test-threads=1"]);
        if crash {
            command.env(VARIABLE, "1");
        }
        let output = command.output().expect("this program can be run again");
        (output.status.success(), String::from_utf8_lossy(&output.stdout).contains("test result: "))
    };
    assert_eq!(run(false), (true, true), "as it is");
    assert_eq!(run(true), (false, false), "crashed");
}
