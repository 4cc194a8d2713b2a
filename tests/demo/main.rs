//! The demo: the bell-tower scene, with an instance of the built plug-in on each stem and on the mix, or the user's own
//! mix, in a small host. It shows planted values next to found ones, and draws the screen at typical moments. Then it
//! runs the command on the same files, and shows the command's values next to the plug-in's.
#![expect(clippy::print_stdout, reason = "a command talks to its user on stdout")]

mod args;
mod found;
mod gallery;
mod heard;
mod microphones;
mod play;
mod report;
mod seat;
mod surveyed;
#[cfg(target_os = "linux")]
mod window;

use args::Args;
use gallery::Gallery;
use heard::Heard;
use play::Play;
use plumbline_audio::Reader;
use plumbline_programme::Role;
use plumbline_scene::{self as scene, MIX_FILE, Place, Quantity, StemTruth, Truth};
use plumbline_tests::rig::{board, bundles};
use seat::Track;
use std::error::Error;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use surveyed::Both;

type Outcome<T> = Result<T, Box<dyn Error>>;

/// A time to take a view, and the name of its picture.
pub(crate) struct Moment {
    pub(crate) name: String,
    pub(crate) secs: f64,
}

fn main() -> ExitCode {
    match run() {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => {
            eprintln!("demo: not everything planted was found; see the lines marked NO");
            ExitCode::FAILURE
        }
        Err(error) => {
            eprintln!("demo: {error}");
            ExitCode::FAILURE
        }
    }
}

/// Runs the demo. True if all planted values were found.
fn run() -> Outcome<bool> {
    let args = Args::from(std::env::args().skip(1))?;
    // A separate board keeps the user's own session out of the scene.
    let board = board::Folder::make()?;
    board.claim();
    let clap = bundles::clap()?;
    let folder = demo_folder(&clap)?;
    let (input, truth) = match &args.input {
        Some(file) => (file.clone(), None),
        None => {
            println!("demo: making the scene in {}", folder.display());
            let truth = scene::write(&folder, &mut |step| println!("demo:   {step}"))?;
            (folder.join("stems").join(MIX_FILE), Some(truth))
        }
    };
    // Opened before the host starts, so that a file that cannot be measured is reported at once.
    let reader = Reader::open(&input)?;
    let moments = truth.as_ref().map_or_else(|| quarters(&reader), telling);
    let microphones = match &truth {
        Some(truth) => {
            println!("demo: boom and lavalier alone, by session and by side-chain");
            microphones::rows(&clap, &play::library_file(&clap), &folder, truth)?
        }
        None => Vec::new(),
    };
    let (mix, stems) = tracks(&input, truth.as_ref(), &folder)?;
    println!("demo: playing {} and {} stems through {}", input.display(), stems.len(), clap.display());
    let mut play = Play::start(&clap, mix, stems)?;
    let heard = listen(&mut play, &moments)?;

    // The same files without a host: the command must find the same.
    let report = folder.join("report");
    println!("demo: surveying {} with the command plumbline", surveyed::what(truth.as_ref()));
    let survey = surveyed::run(&input, truth.as_ref(), &folder, &report)?;
    let mut rows = match &truth {
        Some(truth) => surveyed::beside(found::rows(truth, &heard), truth, &survey),
        None => surveyed::readings(found::readings(&heard), &survey),
    };
    rows.extend(microphones.into_iter().map(Both::plug_in_alone));
    if let Some(truth) = &truth {
        rows.push(surveyed::mics(truth, &folder)?);
    }
    println!("\n{}", report::table(&rows));
    let found = folder.join("found.json");
    std::fs::write(&found, report::json(&input, &rows)?).map_err(at(&found))?;

    let log = folder.join("log");
    report::export(&log, &heard)?;
    let pictures = folder.join("pictures");
    let drawn = Gallery::open(&pictures)?.hang(&moments, &heard)?;
    println!(
        "demo: {}, the survey's report in {}, the plug-in's log in {} and {drawn} pictures in {}",
        found.display(),
        report.join("report.html").display(),
        log.display(),
        pictures.display()
    );
    show(&args, play, &pictures);
    Ok(rows.iter().all(Both::holds))
}

/// The folder of the demo, next to the bundles.
fn demo_folder(clap: &Path) -> Outcome<PathBuf> {
    let target = clap.parent().and_then(Path::parent).ok_or("the bundle is not in a target folder")?;
    let folder = target.join("demo");
    std::fs::create_dir_all(&folder).map_err(at(&folder))?;
    Ok(folder)
}

/// The project of the demo's host: the mix bus, and a track for each stem of the scene with its fader.
fn tracks(input: &Path, truth: Option<&Truth>, folder: &Path) -> Outcome<(Track, Vec<Track>)> {
    let mix = Track { name: "Mix bus".to_owned(), role: Role::Mix, file: input.to_owned(), gain: 1.0 };
    let stem = |stem: &StemTruth| -> Outcome<Track> {
        let role = Role::ALL.into_iter().find(|role| role.name() == stem.role);
        #[expect(clippy::cast_possible_truncation, reason = "a host's samples are single precision")]
        let gain = 10.0_f64.powf(stem.gain_db / 20.0) as f32;
        Ok(Track {
            name: stem.name.clone(),
            role: role.ok_or_else(|| format!("the scene has a stem of an unknown role, {}", stem.role))?,
            file: folder.join("stems").join(&stem.file),
            gain,
        })
    };
    let stems = truth.into_iter().flat_map(|truth| &truth.stems).map(stem).collect::<Outcome<_>>()?;
    Ok((mix, stems))
}

/// Adds the path to an error of the file system, which lacks it.
pub(crate) fn at(path: &Path) -> impl FnOnce(std::io::Error) -> String + '_ {
    move |error| format!("could not write {}: {error}; choose a place that you may write to", path.display())
}

/// The moments: the ends of the stretches with a planted verdict, some more, and the end.
fn telling(truth: &Truth) -> Vec<Moment> {
    let moment = |name: &str, secs: f64| Moment { name: name.to_owned(), secs };
    let mut moments: Vec<Moment> = truth
        .planted
        .iter()
        .filter(|planted| planted.place == Place::Mix)
        .filter(|planted| matches!(planted.quantity, Quantity::WidthVerdict | Quantity::OneSided))
        .map(|planted| moment(planted.name.split(':').next().unwrap_or(&planted.name), planted.end_secs))
        .collect();
    moments.push(moment("mason at work", 18.9));
    moments.push(moment("end of programme", truth.seconds));
    moments.sort_by(|a, b| a.secs.total_cmp(&b.secs));
    moments
}

/// Four moments of a file without known values.
fn quarters(reader: &Reader) -> Vec<Moment> {
    let secs = reader.frames().map(|frames| frames as f64 / f64::from(reader.rate_hz()));
    let quarter =
        |n: u32| secs.map(|secs| Moment { name: format!("{n} of 4"), secs: secs * f64::from(n) / 4.0 });
    (1..=4).filter_map(quarter).collect()
}

fn listen(play: &mut Play, moments: &[Moment]) -> Outcome<Heard> {
    let mut views = Vec::new();
    for moment in moments {
        views.push(play.view_at(moment.secs)?);
        println!("demo:   {:>6.1} s  {}", moment.secs, moment.name);
    }
    play.finish(views)
}

/// Shows the editor for a while if there is a display.
#[cfg(target_os = "linux")]
fn show(args: &Args, play: Play, pictures: &Path) {
    if args.headless {
        return;
    }
    // The readings are complete, so a window that does not open does not affect them.
    if let Err(error) = window::show(play, &pictures.join("editor_window.png")) {
        println!("demo: the editor window was not shown: {error}");
    }
}

/// Opens no window: the demo's host can open one on X11 only.
#[cfg(not(target_os = "linux"))]
fn show(args: &Args, _play: Play, _pictures: &Path) {
    if !args.headless {
        println!("demo: the demo's host opens no window on this system; the pictures show the same screen");
    }
}
