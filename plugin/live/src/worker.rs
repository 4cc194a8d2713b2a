//! The one thread that measures every layer of the process.

use crate::board::Folder;
use crate::clock;
use crate::fault::{self, Stage};
use crate::instances::Instances;
use crate::panic_guard::guarded;
use crate::priority;
use crate::restarts::Restarts;
use crate::rounds::{IDLE, Rounds};

/// Runs the worker until it is told to stop. Never panics: each part of a round catches its own panics, a panic between
/// them has all engines made anew, and one outside the rounds ends the worker; the next layer starts another.
///
/// When it returns, no file is mapped: hosts unload the binary next.
pub(crate) fn run(instances: &Instances) {
    let ended = guarded(|| {
        instances.list().iter().for_each(|shared| fault::point(Stage::Start, shared.born.id));
        priority::settle();
        let folder = find_folder();
        run_in(instances, &folder);
        if let Ok(folder) = folder {
            folder.leave();
        }
    });
    instances.signal.set_measures(false);
    if let Err(words) = ended {
        instances.tell(&format!(
            "measuring ended with an internal error ({words}). Audio passes, but is not measured. Insert this plug-in \
             once more, or restart the host"
        ));
    }
}

fn find_folder() -> Result<Folder, String> {
    let found = guarded(Folder::find).unwrap_or_else(|words| Err(format!("internal error ({words})")));
    found.map_err(|words| format!("{words}. Restart the host to try again"))
}

/// Runs rounds, and starts over after a failure that no part has caught.
pub(crate) fn run_in(instances: &Instances, folder: &Result<Folder, String>) {
    let mut restarts = Restarts::default();
    let mut rounds = Rounds::new(instances, folder);
    while let Err(words) = guarded(|| rounds.run()) {
        if !restarts.allows(clock::since_zero()) {
            instances.signal.set_measures(false);
            instances.tell(&format!(
                "measuring failed several times in a row with an internal error ({words}). Audio passes, but is not \
                 measured. Reset in this window tries again; else restart the host"
            ));
            wait_for_an_attempt(instances);
            instances.signal.set_measures(true);
            restarts = Restarts::default();
        }
        rounds.renew(&words);
    }
}

/// Waits for a reset, an opening, a layer that comes or leaves, or the end.
fn wait_for_an_attempt(instances: &Instances) {
    let before = instances.attempts();
    while !instances.is_stopped() && !instances.has_changed() && instances.attempts() == before {
        std::thread::park_timeout(IDLE);
    }
}

#[cfg(test)]
mod tests;
