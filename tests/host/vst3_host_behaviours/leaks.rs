//! Memory that an editor leaves behind.

use super::editor::{drawn, opened};
use super::{Rig, activated, playing};
use crate::editor::with_display;
use crate::{assert_quiet, show_words, without_words};
use plumbline_tests::rig::child::say;
use plumbline_tests::rig::embed::{Embedding, Socket};
use plumbline_tests::rig::state::with_memory;
use plumbline_tests::rig::vst3_raw::{HostBehaviour, Instance};

/// Editors opened before counting starts: the first few fill caches of the display driver.
const WARM_UP: usize = 10;
/// Size of the editors in pixels.
const SMALL: [u32; 2] = [760, 480];
/// Number of editors opened while counting.
const EDITORS: usize = 50;
/// The most bytes that an editor may leave behind. 83 KB were found: the keymap that the windowing library never frees
/// (some 1,800 blocks, 60 KB in total), the allocator's overhead for them, and 2 KB of the display driver. None of it
/// is this project's, so this only guards against growth.
const MOST_BYTES: usize = 96 * 1_024;

/// Bytes that this process has allocated and not freed. Resident memory is less useful: it grows with every thread ever
/// started, because the allocator keeps memory for each.
fn allocated() -> usize {
    // SAFETY: it reads the allocator's counters.
    let counted = unsafe { libc::mallinfo2() };
    counted.uordblks + counted.hblkhd
}

fn open_and_close(instance: &Instance) {
    let mut socket = Socket::open(SMALL, Embedding::Plain).unwrap();
    let view = opened(instance, &mut socket);
    drawn(&mut socket, instance, &view);
}

#[test]
fn vst3_editors_leave_little_memory_behind() {
    let Some(quiet) = with_display(|| {
        let rig = Rig::new();
        let mut instance = rig.stereo(HostBehaviour::default());
        let _processor = activated(&mut instance, playing(512));
        // The leak does not depend on the editor's size, and a small one is drawn sooner.
        instance.load(&with_memory(r#"{"version":1,"window":[760,480]}"#)).unwrap();
        (0..WARM_UP).for_each(|_| open_and_close(&instance));
        let before = allocated();
        (0..EDITORS).for_each(|_| open_and_close(&instance));
        let each = allocated().saturating_sub(before) / EDITORS;
        say(&format!(
            "an editor that was opened and closed leaves {each} bytes behind, the mean of {EDITORS}"
        ));
        assert!(each < MOST_BYTES, "{each} bytes an editor");
    }) else {
        return;
    };
    show_words(&quiet, |_| true);
    assert_quiet(&without_words(&quiet));
}
