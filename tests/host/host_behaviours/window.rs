//! An editor, opened, embedded and closed as by one kind of host.
#![cfg(target_os = "linux")]

use super::rig::Aside;
use super::rng::Rng;
use crate::editor::USUAL;
use plumbline_tests::rig::clap::{Instance, Label, Library};
use plumbline_tests::rig::embed::{DRAWN, Embedding, Sizes, Socket};
use std::sync::atomic::Ordering;
use std::time::Duration;

/// The longest wait for drawing on a slow machine without a graphics card.
pub(super) const PATIENCE: Duration = Duration::from_secs(20);

/// The way in which the editor is closed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum End {
    Closed,
    /// The host destroys its window first.
    ParentFirst,
    /// The host hides and closes it from a thread other than its main one.
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
pub(super) struct Behaviour {
    pub(super) embedding: Embedding,
    pub(super) sizes: Sizes,
    /// Pixels per point.
    pub(super) scale: f64,
    /// Whether the scale is set before the size is requested, or once the editor is open.
    pub(super) scale_first: bool,
    /// Whether the window is hidden and shown again.
    pub(super) hides: bool,
    /// Whether another instance has an editor at the same time.
    pub(super) two: bool,
    pub(super) end: End,
}

/// A plain host, to which a test adds a behaviour.
pub(super) const PLAIN: Behaviour = Behaviour {
    embedding: Embedding::Plain,
    sizes: Sizes::Granted,
    scale: 1.0,
    scale_first: false,
    hides: false,
    two: false,
    end: End::Closed,
};

impl Behaviour {
    pub(super) fn random(rng: &mut Rng) -> Self {
        Self {
            embedding: rng.pick(&Embedding::ALL),
            sizes: rng.pick(&[Sizes::Granted, Sizes::Refused, Sizes::Rounded(8)]),
            scale: rng.pick(&[1.0, 1.0, 1.25, 2.0]),
            scale_first: rng.once_in(2),
            hides: rng.once_in(3),
            two: rng.once_in(4),
            end: rng.pick(&End::ALL),
        }
    }
}

/// An open editor, and perhaps a second one of another instance.
struct Open {
    socket: Socket,
    second: Option<(Socket, Instance)>,
}

/// An editor with one behaviour, open or not.
pub(super) struct Editor {
    behaviour: Behaviour,
    open: Option<Open>,
}

impl Editor {
    pub(super) fn of(behaviour: Behaviour) -> Self {
        Self { behaviour, open: None }
    }
}

impl Aside for Editor {
    fn before(&mut self, library: &Library, instance: &mut Instance) {
        self.open = Some(open(library, instance, &self.behaviour));
    }

    fn after(&mut self, instance: &mut Instance) {
        close(self.open.take().expect("it was opened"), instance, &self.behaviour);
    }
}

/// Opens the editor, waits until it is drawn, and treats it as such a host does.
fn open(library: &Library, instance: &mut Instance, behaviour: &Behaviour) -> Open {
    let mut socket = show(instance, behaviour);
    if behaviour.scale != 1.0 && !behaviour.scale_first {
        let sharper = socket.inner_size().unwrap().unwrap().map(|pixels| scaled(pixels, behaviour.scale));
        socket.resize(sharper).unwrap();
        instance.scale_editor(behaviour.scale).unwrap();
        // The editor resizes its own window, which a redirecting host may also answer differently.
        let granted =
            if behaviour.embedding.redirects() { behaviour.sizes.answer(sharper) } else { Some(sharper) };
        match granted {
            Some(size) => fits(&mut socket, instance, size),
            None => drop(socket.wait_until_drawn(PATIENCE, || instance.idle()).unwrap()),
        }
    }
    let second = behaviour.two.then(|| {
        let mut other = library.create(crate::STEREO, Label::default()).unwrap();
        (show(&mut other, behaviour), other)
    });
    resize(&mut socket, instance, behaviour);
    if behaviour.hides {
        instance.hide_editor().unwrap();
        let idle = || instance.idle();
        socket.wait_for_picture(PATIENCE, idle, |picture| picture.colours() < DRAWN).unwrap();
        instance.show_editor().unwrap();
        socket.wait_until_drawn(PATIENCE, || instance.idle()).unwrap();
    }
    Open { socket, second }
}

fn show(instance: &mut Instance, behaviour: &Behaviour) -> Socket {
    let mut socket = Socket::open(USUAL, behaviour.embedding).unwrap();
    socket.set_sizes(behaviour.sizes);
    instance.notes().refuses_sizes.store(behaviour.sizes == Sizes::Refused, Ordering::Release);
    let size = if behaviour.scale_first {
        let plain = instance.editor_size().unwrap();
        let size = instance.open_editor_scaled(socket.id(), behaviour.scale).unwrap();
        assert_eq!(size, plain.map(|points| scaled(points, behaviour.scale)), "the size that is told");
        size
    } else {
        instance.open_editor(socket.id()).unwrap()
    };
    socket.resize(size).unwrap();
    socket.shown();
    socket.wait_until_drawn(PATIENCE, || instance.idle()).unwrap();
    socket
}

/// The user drags the edge of the host's window: the editor is asked for a size that fits, and gets this host's answer.
fn resize(socket: &mut Socket, instance: &mut Instance, behaviour: &Behaviour) {
    let wish = [1_003, 701].map(|pixels| scaled(pixels, behaviour.scale));
    let Some(size) = behaviour.sizes.answer(wish) else { return };
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

/// Closes the editor as this host does. After an unusual end it opens once more.
fn close(open: Open, instance: &mut Instance, behaviour: &Behaviour) {
    let Open { mut socket, second } = open;
    socket.idle().unwrap();
    if let Some((mut socket, mut other)) = second {
        socket.wait_until_drawn(PATIENCE, || other.idle()).unwrap();
        other.close_editor().unwrap();
    }
    match behaviour.end {
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
    if matches!(behaviour.end, End::ParentFirst | End::FromAnotherThread) {
        drop(show(instance, &PLAIN));
        instance.close_editor().unwrap();
    }
}

fn scaled(pixels: u32, scale: f64) -> u32 {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a window's side")]
    let scaled = (f64::from(pixels) * scale).round() as u32;
    scaled
}
