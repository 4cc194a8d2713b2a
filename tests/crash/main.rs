//! Whether whoever runs the tests notices a program that crashes. On Linux it is plain; in Wine a debugger can turn a
//! crash into a good end, so `cargo xtask windows` asks this suite to crash, and must then see it fail.

/// Asks for the crash.
const VARIABLE: &str = "PLUMBLINE_TEST_CRASH";

/// Not a test of its own: the crash, where it is asked for.
#[test]
fn victim() {
    if std::env::var_os(VARIABLE).is_some() {
        // SAFETY: none. Nothing is mapped at address 8 on any system that runs this; the fault is what is wanted.
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
