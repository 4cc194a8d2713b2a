//! What an editor leaves behind.

use super::editor::{drawn, opened};
use super::{Rig, activated, playing, show_words, without_words};
use crate::assert_quiet;
use crate::editor::with_display;
use plumbline_tests::rig::child::say;
use plumbline_tests::rig::embed::{Embedding, Socket};
use plumbline_tests::rig::state::with_memory;
use plumbline_tests::rig::vst3_raw::{HostBehaviour, Instance};

/// Editors that are opened before anything is counted: the first few fill caches of the display's driver.
const WARM_UP: usize = 10;
/// Size of the editors in pixels.
const SMALL: [u32; 2] = [760, 480];
/// Editors that are counted.
const EDITORS: usize = 50;
/// Bytes that an editor may leave behind. 83 KB were found: the keymap that the windowing library never lets go of (some
/// 1,800 blocks of 60 KB together), what the allocator needs to keep count of those, and 2 KB of the display driver's.
/// None of it is of this project, so this holds a growth, and no promise.
const MOST_BYTES: usize = 96 * 1_024;

/// Bytes that this process has allocated and not let go of. What is resident tells less: it grows with the threads that
/// have ever been, by what the allocator keeps for each.
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
        // What an editor leaves does not grow with it, and a small one is drawn sooner.
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
