//! `setup`: installs the system packages needed to build and test, if it has permission; else lists them.

use crate::error::{Error, no_arguments};
use crate::packages::{BUILD, MACOS, Need, Probe, TEST, WINDOWS};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

/// Attempts at `apt-get` before it counts as failed: networks and mirrors sometimes fail.
const TRIES: u32 = 3;
/// The longest wait for another apt to release its lock, in seconds.
const LOCK_SECS: u32 = 400;

/// The system, by its way of installing packages.
enum System {
    Debian,
    Fedora,
    Arch,
    OtherLinux,
    Macos,
    Windows,
    Other,
}

/// Runs the command.
pub(crate) fn run(rest: &[String]) -> Result<(), Error> {
    no_arguments(rest)?;
    match System::here() {
        System::Debian => debian(),
        System::Fedora => by_hand("sudo dnf install", |need| need.fedora),
        System::Arch => by_hand("sudo pacman -S --needed", |need| need.arch),
        System::OtherLinux => by_hand("your package manager; Debian's names are:", |need| need.debian),
        System::Macos => tool("xcode-select", &["-p"], MACOS),
        System::Windows => {
            // Cargo has linked this program, so the build tools are present.
            println!("setup: nothing more to install. Building needs {WINDOWS}.");
            Ok(())
        }
        System::Other => Err(Error::Failed(
            "this system is unknown here; nothing was installed. Building needs a C++ compiler: install one"
                .to_owned(),
        )),
    }
}

impl System {
    fn here() -> Self {
        match std::env::consts::OS {
            "macos" => return Self::Macos,
            "windows" => return Self::Windows,
            "linux" => {}
            _ => return Self::Other,
        }
        let release = std::fs::read_to_string("/etc/os-release").unwrap_or_default();
        let is = |name: &str| {
            release
                .lines()
                .filter(|line| line.starts_with("ID=") || line.starts_with("ID_LIKE="))
                .flat_map(|line| line.split(['=', '"', ' ']))
                .any(|word| word == name)
        };
        match () {
            () if is("debian") || is("ubuntu") => Self::Debian,
            () if is("fedora") || is("rhel") => Self::Fedora,
            () if is("arch") => Self::Arch,
            () => Self::OtherLinux,
        }
    }
}

fn all() -> impl Iterator<Item = &'static Need> {
    BUILD.iter().chain(TEST)
}

fn debian() -> Result<(), Error> {
    let names: Vec<&'static str> = all().map(|need| need.debian).collect();
    install("setup", &names)
}

/// Installs the Debian packages of one task. The task only works on Debian and its derivatives.
pub(crate) fn debian_packages(task: &str, names: &[&'static str]) -> Result<(), Error> {
    if let System::Debian = System::here() {
        return install(task, names);
    }
    Err(Error::Failed(format!(
        "`{task}` needs Debian 12 or newer with these packages: {}; nothing was done",
        names.join(" ")
    )))
}

fn install(task: &str, names: &[&'static str]) -> Result<(), Error> {
    let missing = missing_of_dpkg(names);
    if missing.is_empty() {
        println!("{task}: all {} system packages are installed.", names.len());
        return Ok(());
    }
    println!("{task}: missing {}", missing.join(" "));
    let Some(prefix) = privilege() else {
        return Err(Error::Failed(format!(
            "{} packages are missing and this user may not install them; nothing was installed. Run\n    sudo \
             apt-get install {}\nand then run this again",
            missing.len(),
            missing.join(" ")
        )));
    };
    apt(prefix, &["update"])?;
    let mut install = vec!["install", "-y", "--no-install-recommends"];
    install.extend(&missing);
    apt(prefix, &install)?;
    match missing_of_dpkg(names) {
        left if left.is_empty() => Ok(()),
        left => Err(Error::Failed(format!(
            "apt-get succeeded, but these are still missing: {}. See its output above",
            left.join(" ")
        ))),
    }
}

/// The packages that dpkg does not report as installed.
fn missing_of_dpkg(names: &[&'static str]) -> Vec<&'static str> {
    let output = Command::new("dpkg-query")
        .args(["-W", "-f", "${db:Status-Status} ${Package}\n"])
        .args(names)
        .stderr(Stdio::null())
        .output();
    let text = output.map(|o| String::from_utf8_lossy(&o.stdout).into_owned()).unwrap_or_default();
    let installed: Vec<&str> = text.lines().filter_map(|line| line.strip_prefix("installed ")).collect();
    names.iter().copied().filter(|name| !installed.contains(name)).collect()
}

/// The files of installed packages.
pub(crate) fn files_of(names: &[&str]) -> Result<Vec<PathBuf>, Error> {
    let output = Command::new("dpkg-query").arg("--listfiles").args(names).output();
    let output = output.map_err(|e| Error::Failed(format!("could not run dpkg-query: {e}")))?;
    if !output.status.success() {
        let words = String::from_utf8_lossy(&output.stderr);
        return Err(Error::Failed(format!("dpkg-query did not list the files: {}", words.trim())));
    }
    let listed = String::from_utf8_lossy(&output.stdout);
    Ok(listed.lines().map(PathBuf::from).filter(|path| path.is_file()).collect())
}

/// The prefix that gives `apt-get` its rights: nothing for root, `sudo -n` if it needs no password.
fn privilege() -> Option<&'static [&'static str]> {
    let quiet = |program: &str, args: &[&str]| {
        Command::new(program).args(args).stdin(Stdio::null()).stderr(Stdio::null()).output().ok()
    };
    let user = quiet("id", &["-u"])?;
    if String::from_utf8_lossy(&user.stdout).trim() == "0" {
        return Some(&[]);
    }
    quiet("sudo", &["-n", "true"]).filter(|o| o.status.success()).map(|_| &["sudo", "-n"][..])
}

fn apt(prefix: &[&str], args: &[&str]) -> Result<(), Error> {
    let lock = format!("DPkg::Lock::Timeout={LOCK_SECS}");
    let words: Vec<&str> = prefix
        .iter()
        .copied()
        .chain(["env", "DEBIAN_FRONTEND=noninteractive", "apt-get", "-o", &lock])
        .chain(args.iter().copied())
        .collect();
    let mut last = Ok(());
    for attempt in 1..=TRIES {
        if attempt > 1 {
            println!("setup: trying again (attempt {attempt} of {TRIES})");
            std::thread::sleep(Duration::from_secs(5));
        }
        last = crate::step::run(Command::new(words[0]).args(&words[1..]).stdin(Stdio::null()));
        if last.is_ok() {
            return Ok(());
        }
    }
    last
}

/// Other Linux systems: probes for each package, and reports how to install the missing ones.
fn by_hand(how: &str, name: impl Fn(&Need) -> &'static str) -> Result<(), Error> {
    let missing: Vec<&Need> = all().filter(|need| !present(&need.probe)).collect();
    told(&missing, how, name)
}

/// Reports the missing packages, with the command that installs them.
fn told(missing: &[&Need], how: &str, name: impl Fn(&Need) -> &'static str) -> Result<(), Error> {
    let mut names: Vec<&str> = missing.iter().map(|need| name(need)).filter(|n| !n.is_empty()).collect();
    names.dedup();
    let unnamed = missing.iter().filter(|need| name(need).is_empty());
    for need in unnamed {
        println!(
            "setup: no package for {} here; tests that need it will report that they did not run",
            need.debian
        );
    }
    if names.is_empty() {
        println!("setup: all system packages are installed.");
        return Ok(());
    }
    Err(Error::Failed(format!(
        "missing system packages; nothing was installed. Install them with\n    {how} {}\nand then run this again",
        names.join(" ")
    )))
}

fn present(probe: &Probe) -> bool {
    match probe {
        Probe::Module(module) => Command::new("pkg-config")
            .args(["--exists", module])
            .stderr(Stdio::null())
            .status()
            .is_ok_and(|s| s.success()),
        Probe::Program(program) => on_path(program),
        Probe::Path(paths) => paths.split(':').any(|path| Path::new(path).exists()),
    }
}

fn on_path(program: &str) -> bool {
    let path = std::env::var_os("PATH").unwrap_or_default();
    std::env::split_paths(&path).any(|folder: PathBuf| folder.join(program).is_file())
}

fn tool(program: &str, args: &[&str], what: &str) -> Result<(), Error> {
    let there = Command::new(program)
        .args(args)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|s| s.success());
    if there {
        println!("setup: all is installed.");
        return Ok(());
    }
    Err(Error::Failed(format!("missing: {what}. Nothing was installed; install it and run this again")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_need_has_a_debian_name_and_no_name_comes_twice() {
        let mut names: Vec<&str> = all().map(|need| need.debian).collect();
        assert!(names.len() > 10);
        assert!(names.iter().all(|n| !n.is_empty()));
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), all().count());
    }

    #[test]
    fn a_missing_package_is_named_with_the_command_that_gets_it() {
        let missing: Vec<&Need> = BUILD.iter().take(2).collect();
        let Err(Error::Failed(text)) = told(&missing, "get-it", |need| need.fedora) else {
            panic!("two missing packages are an error")
        };
        assert!(text.contains("get-it pkgconf-pkg-config gcc-c++"), "{text}");
        assert!(text.contains("nothing was installed"), "{text}");
        assert!(told(&[], "get-it", |need| need.fedora).is_ok());
        assert!(!present(&Probe::Program("no-such-program-anywhere")));
        assert!(present(&Probe::Path("/no-such-folder:/")) || cfg!(windows));
    }
}
