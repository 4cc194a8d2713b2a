//! A layer as the host's threads see it.

use crate::audio_queue::AudioQueue;
use crate::board::clean_name;
use crate::marks;
use crate::owner_process::OwnerProcess;
use crate::registry;
use crate::shared::{Inbox, SharedState, lock};
use crate::stream_format::StreamFormat;
use crate::tap::Tap;
use crate::trial::ChannelDelays;
use crate::worker_signal::WorkerSignal;
use plumbline_measure::{RateError, SampleRate};
use plumbline_programme::{Command, History, LayerId, Mark, Settings, View};
use std::fmt;
use std::sync::Arc;
use std::sync::atomic::Ordering;

/// The audio format that the host announces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Format {
    /// Sample rate in Hz, as the host gives it; rounded to whole Hz.
    pub rate_hz: f64,
    /// Channels of the main bus, limited to 1 or 2.
    pub channels: u8,
    /// Channels of the side-chain, limited to 0, 1 or 2.
    ///
    /// Side-chain audio is counted ([`Layer::side_frames`]), and compared with the main bus while the layer is watched.
    pub side_channels: u8,
    /// Whether this is an offline render: the audio thread may then wait for queue space, so that all audio is
    /// measured.
    pub offline: bool,
}

/// One plug-in instance.
///
/// Call its methods from any thread but the audio thread: they lock briefly or allocate. The audio thread has the
/// [`Tap`], which takes none of these locks.
pub struct Layer {
    shared: Arc<SharedState>,
    worker: Arc<WorkerSignal>,
    owner: OwnerProcess,
}

impl Layer {
    /// Creates a layer and registers it with the worker of the process, which starts with the first layer.
    ///
    /// If the system refuses a thread, the layer exists without a worker and [`Self::trouble`] says so; the next layer
    /// tries again, for this one too.
    pub fn join() -> Arc<Self> {
        let shared = Arc::new(SharedState::new());
        let worker = registry::join(&shared);
        Arc::new(Self { shared, worker, owner: OwnerProcess::current() })
    }

    /// A layer of a worker that a test runs itself.
    #[cfg(test)]
    pub(crate) fn of(shared: Arc<SharedState>, worker: Arc<WorkerSignal>) -> Arc<Self> {
        Arc::new(Self { shared, worker, owner: OwnerProcess::current() })
    }

    /// Makes a queue and returns its audio end. The tap of an earlier opening, which should be gone by now, is retired;
    /// the audio it handed over is still measured, before any new audio. The delay line of a trial is allocated here,
    /// and a trial that is set applies from the first frame.
    ///
    /// # Errors
    /// If Plumbline does not measure at this sample rate; then nothing is changed.
    pub fn open(self: &Arc<Self>, format: Format) -> Result<Tap, RateError> {
        let format = StreamFormat {
            rate: SampleRate::from_host(format.rate_hz)?,
            channels: format.channels.clamp(1, 2),
            side_channels: format.side_channels.min(2),
            offline: format.offline,
        };
        let queue =
            Arc::new(AudioQueue::new(format, Arc::clone(&self.shared.counts), Arc::clone(&self.worker)));
        let former = self.shared.ask(|inbox| {
            queue.trial.put(&ChannelDelays::of(inbox.settings.trial, &format));
            inbox.opened.push(Arc::clone(&queue));
            inbox.current.replace(Arc::clone(&queue))
        });
        if let Some(former) = former {
            former.retired.store(true, Ordering::Release);
        }
        self.shared.attempt();
        self.worker.wake();
        Ok(Tap::new(queue))
    }

    /// The latest view. Views are made while the layer is watched (`Settings::watched`); before the first, an empty one
    /// with serial 0.
    pub fn view(&self) -> Arc<View> {
        Arc::clone(&lock(&self.shared.view))
    }

    /// Serial of the latest view, read without a lock.
    pub fn serial(&self) -> u64 {
        self.shared.serial.load(Ordering::Acquire)
    }

    /// Changes the settings, and clamps them to their bounds. The name is cut to 64 bytes, and control characters in it
    /// become spaces. New band edges start averages afresh; a new session letter starts shares afresh.
    ///
    /// A trial delays this layer, inverts its polarity, or both, until it is unset; in an offline render only if
    /// `Trial::in_renders`. A change takes up to 120 ms: the delay line fills for as long as the delay, then the output
    /// fades for 20 ms. A delay under 32 samples is rounded to whole samples, because a fraction needs 32 samples on
    /// both sides. No trial adds latency.
    pub fn change(&self, change: impl FnOnce(&mut Settings)) {
        self.shared.ask(|inbox| set(inbox, change));
        self.worker.wake();
    }

    /// The settings.
    pub fn settings(&self) -> Settings {
        self.shared.look(|inbox| inbox.settings.clone())
    }

    /// Sends a command. At most a thousand marks are kept, on both grids together; the earliest is dropped first.
    pub fn send(&self, command: Command) {
        let resets = command == Command::Reset;
        self.shared.ask(|inbox| {
            let mut done = false;
            set(inbox, |settings| done = settings.obey(&command));
            if !done {
                marks::enqueue(&mut inbox.commands, command);
            }
        });
        if resets {
            self.shared.attempt();
        }
        self.worker.wake();
    }

    /// The marks, ascending: those of the worker, changed by the commands sent since. A [`Command::Mark`] appears once
    /// the worker has found its position.
    pub fn marks(&self) -> Vec<Mark> {
        self.shared.look(|inbox| {
            let mut marks = lock(&self.shared.marks).clone();
            inbox.commands.iter().for_each(|command| {
                marks::apply(&mut marks, command);
            });
            marks
        })
    }

    /// The layer's id: constant for its life, and different for every instance.
    pub fn id(&self) -> LayerId {
        self.shared.born.id
    }

    /// Sets the callback that follows each new view. The worker calls it with no lock held; a call to the former
    /// callback may still be under way when this returns. It should only request a repaint. A callback that panics is
    /// dropped, and [`Self::trouble`] says so.
    pub fn set_notify(&self, notify: Option<Box<dyn Fn() + Send + Sync>>) {
        // The former callback is dropped outside the lock: its drop may call this layer.
        let former = self.shared.ask(|inbox| std::mem::replace(&mut inbox.notify, notify.map(Arc::from)));
        drop(former);
    }

    /// Reads the history. The worker waits meanwhile: keep it short, and do not call this method from `f`.
    pub fn with_history<R>(&self, f: impl FnOnce(&History) -> R) -> R {
        f(&lock(&self.shared.history))
    }

    /// Whether nothing is left to do: no tap is open, all audio handed over is in the history, all commands are carried
    /// out, and, if watched, the latest view shows it. For offline runs that wait for the result.
    pub fn is_settled(&self) -> bool {
        self.shared.is_settled()
    }

    /// Why this layer is not measured or its window not updated, and what to do about it.
    pub fn trouble(&self) -> Option<String> {
        lock(&self.shared.trouble).clone()
    }

    /// Blocks so far with slices that did not fit the format: wrong channel count or unequal lengths.
    pub fn misfits(&self) -> u64 {
        self.shared.counts.misfits.load(Ordering::Relaxed)
    }

    /// Frames of side-chain audio that have reached the worker so far.
    pub fn side_frames(&self) -> u64 {
        self.shared.counts.side_frames.load(Ordering::Relaxed)
    }
}

/// Changes the settings in an inbox, clamped to their bounds, and posts a changed trial to the audio thread.
fn set(inbox: &mut Inbox, change: impl FnOnce(&mut Settings)) {
    let mut settings = inbox.settings.clone();
    change(&mut settings);
    settings.identity.name = clean_name(&settings.identity.name);
    let former = std::mem::replace(&mut inbox.settings, settings.sane());
    let open = inbox.current.as_ref().filter(|queue| !queue.closed.load(Ordering::Acquire));
    if let Some(queue) = open.filter(|_| inbox.settings.trial != former.trial) {
        queue.trial.put(&ChannelDelays::of(inbox.settings.trial, &queue.format));
    }
}

impl Drop for Layer {
    /// Unregisters the layer; the last one waits until the worker has ended.
    ///
    /// Does nothing in a forked child: the layer, its file and the worker are the parent's, and any lock may have been
    /// held at the fork.
    fn drop(&mut self) {
        if !self.owner.is_current() {
            return;
        }
        let (queue, callback) = self.shared.ask(|inbox| (inbox.current.take(), inbox.notify.take()));
        if let Some(queue) = queue {
            queue.retired.store(true, Ordering::Release);
        }
        drop(callback);
        registry::leave(&self.shared);
    }
}

impl fmt::Debug for Layer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Layer").field("serial", &self.serial()).finish_non_exhaustive()
    }
}
