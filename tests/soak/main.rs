//! A hundred layers in three host processes and both formats for as long as asked: playing, jumping, renamed, leaving,
//! killed, with an editor that opens and closes. Memory, threads and descriptors of the hosts that live on must not grow,
//! the output must equal the input, and the loudness of each CLAP layer of the first host must be right at the end.
//!
//! `cargo xtask soak MINUTES` builds the plug-ins and runs it. Linux only: it reads /proc.
#![expect(clippy::print_stdout, reason = "a program that talks to its user")]

#[cfg(target_os = "linux")]
mod host;
#[cfg(target_os = "linux")]
mod watch;

fn main() -> std::process::ExitCode {
    #[cfg(target_os = "linux")]
    {
        let words: Vec<String> = std::env::args().skip(1).collect();
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        let outcome = match words.as_slice() {
            ["host", numbers @ ..] => host::run(numbers),
            [minutes] => watch::run(minutes),
            _ => Err("usage: soak MINUTES".to_owned()),
        };
        match outcome {
            Ok(()) => std::process::ExitCode::SUCCESS,
            Err(error) => {
                println!("soak: {error}");
                std::process::ExitCode::FAILURE
            }
        }
    }
    #[cfg(not(target_os = "linux"))]
    {
        println!("soak: it reads /proc, so it runs on Linux only");
        std::process::ExitCode::FAILURE
    }
}
