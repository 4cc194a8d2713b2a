//! Writes the log, the joins and the statistics to the folder that the user chose.
//!
//! A separate thread writes, so that neither the picture nor the worker waits for the disk. It is joined when the
//! instance is dropped, because hosts unload the binary. It exports a view that it owns, so measuring goes on
//! meanwhile.
//!
//! A set of files is written completely or not at all, and no existing file is touched.

mod folder;
mod names;
mod set;

use jiff::ZonedDateTime;
use jiff::civil::DateTime;
use plumbline_live::guarded;
use plumbline_measure::SampleRate;
use plumbline_programme::View;
use plumbline_report::Report;
use plumbline_screen::{Exported, Role, Settings};
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::{self, JoinHandle};

/// One export.
pub(crate) struct Job {
    /// The latest view.
    pub(crate) view: Arc<View>,
    /// The user's settings.
    pub(crate) settings: Settings,
    /// The name of the layer; may be empty.
    pub(crate) layer: String,
    /// The layer's role.
    pub(crate) role: Role,
}

/// The exports of one instance: at most one at a time.
#[derive(Default)]
pub(crate) struct Exports {
    thread: Mutex<Option<JoinHandle<()>>>,
    last: Arc<Mutex<Option<Exported>>>,
}

impl Exports {
    /// The outcome of the last export; `None` while one is being written.
    pub(crate) fn last(&self) -> Option<Exported> {
        self.last.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Starts an export, and calls `done` at its end. Does nothing while another export is being written, which has the
    /// same log.
    pub(crate) fn start(&self, job: Job, done: impl FnOnce() + Send + 'static) {
        let mut thread = self.thread.lock().unwrap_or_else(PoisonError::into_inner);
        if thread.as_ref().is_some_and(|thread| !thread.is_finished()) {
            return;
        }
        if let Some(before) = thread.take() {
            let _ = before.join();
        }
        let last = self.last.clone();
        set_last(&last, None);
        let begun = thread::Builder::new().name("plumbline-export".to_owned()).spawn(move || {
            let said = guarded(|| export(&job)).unwrap_or_else(|panic| {
                failed(format!("The export failed: {panic}. Measuring continues; try again."))
            });
            set_last(&last, Some(said));
            let _ = guarded(done);
        });
        match begun {
            Ok(handle) => *thread = Some(handle),
            Err(error) => set_last(
                &self.last,
                Some(failed(format!(
                    "The export could not start ({error}): nothing was written. Try again."
                ))),
            ),
        }
    }
}

impl Drop for Exports {
    /// Waits for a set that is being written: milliseconds, unless the disk hangs.
    fn drop(&mut self) {
        if let Some(thread) = self.thread.get_mut().unwrap_or_else(PoisonError::into_inner).take() {
            let _ = thread.join();
        }
    }
}

fn set_last(last: &Mutex<Option<Exported>>, said: Option<Exported>) {
    *last.lock().unwrap_or_else(PoisonError::into_inner) = said;
}

fn failed(words: String) -> Exported {
    Exported { failed: true, words }
}

/// Writes one set of files, and returns the outcome.
fn export(job: &Job) -> Exported {
    let folder = match folder::ready(&job.settings.export_folder) {
        Ok(folder) => folder,
        Err(words) => return failed(words),
    };
    export_into(job, &folder, &ZonedDateTime::now().datetime())
}

fn export_into(job: &Job, folder: &Path, now: &DateTime) -> Exported {
    let Ok(rate) = SampleRate::new(job.view.clock.rate_hz) else {
        return failed("Nothing to export: nothing has been measured yet. Play the song first.".to_owned());
    };
    let date = now.strftime("%Y-%m-%d %H:%M:%S").to_string();
    let report = Report {
        layer: &job.layer,
        role: job.role,
        date: &date,
        start: job.settings.start,
        rate,
        target: job.settings.target,
        rules: &job.settings.rules,
        band_edges: job.settings.band_edges,
        log: &job.view.log,
        lanes: Some(&job.view.lanes),
    };
    let files = [
        ("-findings.csv", report.findings_csv()),
        ("-joins.csv", report.joins_csv()),
        ("-passages.csv", report.passages_csv()),
        (".json", report.json()),
        (".html", report.html()),
    ];
    let stem = names::stem(&job.layer, job.role, &now.strftime("%Y-%m-%d-%H%M%S").to_string());
    match set::write(folder, &stem, &files, &set::put) {
        Ok(stem) => Exported {
            failed: false,
            words: format!("{} files named {stem}… are in {}.", files.len(), folder.display()),
        },
        Err(error) => failed(folder::words(folder, &error)),
    }
}

#[cfg(test)]
mod tests;
