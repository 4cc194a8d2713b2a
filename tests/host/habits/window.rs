//! An editor as one kind of host opens, holds and closes it.
#![cfg(target_os = "linux")]

use super::draw::Draw;
use super::stage::Aside;
use crate::editor::USUAL;
use plumbline_tests::rig::clap::{Instance, Label, Library};
use plumbline_tests::rig::embed::{DRAWN, Habit, Sizes, Socket};
use std::sync::atomic::Ordering;
use std::time::Duration;

/// How long drawing may take on a slow machine without a graphics card.
pub(super) const PATIENCE: Duration = Duration::from_secs(20);

/// How the editor ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum End {
    Closed,
    /// The host destroys its window first.
    ParentFirst,
    /// The host hides and closes it from a thread that is not its main one.
    FromAnotherThread,
    /// The host hides it and closes it later.
    Hidden,
}

impl End {
    pub(super) const ALL: [Self; 4] =
        [Self::Closed, Self::ParentFirst, Self::FromAnotherThread, Self::Hidden];
}

/// One kind of host, for an editor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Manner {
    pub(super) habit: Habit,
    pub(super) sizes: Sizes,
    /// Pixels of a point.
    pub(super) scale: f64,
    /// Whether that is told before the size is asked for, or once the editor is open.
    pub(super) scale_first: bool,
    /// Whether the window is hidden and shown again.
    pub(super) hides: bool,
    /// Whether another instance has an editor at the same time.
    pub(super) two: bool,
    pub(super) end: End,
}

/// A host without any habit, to which a test adds one.
pub(super) const PLAIN: Manner = Manner {
    habit: Habit::Plain,
    sizes: Sizes::Granted,
    scale: 1.0,
    scale_first: false,
    hides: false,
    two: false,
    end: End::Closed,
};

impl Manner {
    pub(super) fn random(draw: &mut Draw) -> Self {
        Self {
            habit: draw.pick(&Habit::ALL),
            sizes: draw.pick(&[Sizes::Granted, Sizes::Refused, Sizes::Rounded(8)]),
            scale: draw.pick(&[1.0, 1.0, 1.25, 2.0]),
            scale_first: draw.once_in(2),
            hides: draw.once_in(3),
            two: draw.once_in(4),
            end: draw.pick(&End::ALL),
        }
    }
}

/// An open editor, and perhaps a second one of another instance.
struct Open {
    socket: Socket,
    second: Option<(Socket, Instance)>,
}

/// An editor of one manner, open or not.
pub(super) struct Editor {
    manner: Manner,
    open: Option<Open>,
}

impl Editor {
    pub(super) fn of(manner: Manner) -> Self {
        Self { manner, open: None }
    }
}

impl Aside for Editor {
    fn before(&mut self, library: &Library, instance: &mut Instance) {
        self.open = Some(open(library, instance, &self.manner));
    }

    fn after(&mut self, instance: &mut Instance) {
        close(self.open.take().expect("it was opened"), instance, &self.manner);
    }
}

/// Opens the editor, sees it drawn, and does with it what such a host does.
fn open(library: &Library, instance: &mut Instance, manner: &Manner) -> Open {
    let mut socket = show(instance, manner);
    if manner.scale != 1.0 && !manner.scale_first {
        let sharper = socket.inner_size().unwrap().unwrap().map(|pixels| scaled(pixels, manner.scale));
        socket.resize(sharper).unwrap();
        instance.scale_editor(manner.scale).unwrap();
        // The editor resizes its own window, and a redirecting host has its way with that too.
        let granted = if manner.habit.redirects() { manner.sizes.answer(sharper) } else { Some(sharper) };
        match granted {
            Some(size) => fits(&mut socket, instance, size),
            None => drop(socket.wait_until_drawn(PATIENCE, || instance.idle()).unwrap()),
        }
    }
    let second = manner.two.then(|| {
        let mut other = library.create(crate::STEREO, Label::default()).unwrap();
        (show(&mut other, manner), other)
    });
    resize(&mut socket, instance, manner);
    if manner.hides {
        instance.hide_editor().unwrap();
        let idle = || instance.idle();
        socket.wait_for_picture(PATIENCE, idle, |picture| picture.colours() < DRAWN).unwrap();
        instance.show_editor().unwrap();
        socket.wait_until_drawn(PATIENCE, || instance.idle()).unwrap();
    }
    Open { socket, second }
}

fn show(instance: &mut Instance, manner: &Manner) -> Socket {
    let mut socket = Socket::open(USUAL, manner.habit).unwrap();
    socket.set_sizes(manner.sizes);
    instance.notes().refuses_sizes.store(manner.sizes == Sizes::Refused, Ordering::Release);
    let size = if manner.scale_first {
        let plain = instance.editor_size().unwrap();
        let size = instance.open_editor_scaled(socket.id(), manner.scale).unwrap();
        assert_eq!(size, plain.map(|points| scaled(points, manner.scale)), "the size that is told");
        size
    } else {
        instance.open_editor(socket.id()).unwrap()
    };
    socket.resize(size).unwrap();
    socket.shown();
    socket.wait_until_drawn(PATIENCE, || instance.idle()).unwrap();
    socket
}

/// The user drags the edge of the host's window: the editor is asked what fits, and gets what this host makes of
/// that.
fn resize(socket: &mut Socket, instance: &mut Instance, manner: &Manner) {
    let wish = [1_003, 701].map(|pixels| scaled(pixels, manner.scale));
    let Some(size) = manner.sizes.answer(wish) else { return };
    socket.resize(size).unwrap();
    instance.force_editor_size(size).unwrap();
    fits(socket, instance, size);
    assert_eq!(instance.editor_size().unwrap(), size);
}

/// Waits until the editor has a size and is drawn in it.
fn fits(socket: &mut Socket, instance: &mut Instance, size: [u32; 2]) {
    socket.wait_for_picture(PATIENCE, || instance.idle(), |_| true).unwrap();
    let start = std::time::Instant::now();
    while socket.inner_size().unwrap() != Some(size) {
        assert!(start.elapsed() < PATIENCE, "{:?} for {size:?}", socket.inner_size());
        socket.idle().unwrap();
        instance.idle();
        std::thread::sleep(Duration::from_millis(5));
    }
    socket.wait_until_drawn(PATIENCE, || instance.idle()).unwrap();
}

/// Closes the editor as this host does. After that it opens once more, where the first end was an odd one.
fn close(open: Open, instance: &mut Instance, manner: &Manner) {
    let Open { mut socket, second } = open;
    socket.idle().unwrap();
    if let Some((mut socket, mut other)) = second {
        socket.wait_until_drawn(PATIENCE, || other.idle()).unwrap();
        other.close_editor().unwrap();
    }
    match manner.end {
        End::Closed => instance.close_editor().unwrap(),
        End::Hidden => {
            instance.hide_editor().unwrap();
            instance.close_editor().unwrap();
        }
        End::ParentFirst => {
            socket.destroy().unwrap();
            instance.idle();
            instance.close_editor().unwrap();
        }
        End::FromAnotherThread => {
            instance
                .from_another_thread(|gui| {
                    gui.hide();
                    gui.destroy();
                })
                .unwrap();
            instance.idle();
            instance.close_editor().unwrap();
        }
    }
    if matches!(manner.end, End::ParentFirst | End::FromAnotherThread) {
        drop(show(instance, &PLAIN));
        instance.close_editor().unwrap();
    }
}

fn scaled(pixels: u32, scale: f64) -> u32 {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a window's side")]
    let scaled = (f64::from(pixels) * scale).round() as u32;
    scaled
}
