//! The host's side of one plug-in instance.

use crate::audio_queue::{AudioQueue, StreamFormat};
use crate::audition::ChannelDelays;
use crate::board::clean_name;
use crate::marks;
use crate::registry;
use crate::shared::{SharedState, lock};
use crate::tap::Tap;
use plumbline_measure::{RateError, SampleRate};
use plumbline_programme::{Command, History, LayerId, Mark, Settings, View};
use std::fmt;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::thread::Thread;

/// How the host will call.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Format {
    /// Sample rate in Hz, as the host gives it; rounded to whole Hz.
    pub rate_hz: f64,
    /// Channels of the main bus: 1 or 2; anything else is taken for the nearer.
    pub channels: u8,
    /// Channels of the side-chain: 0, 1 or 2; anything above is taken for 2.
    ///
    /// Side-chain audio is counted ([`Layer::side_frames`]), and compared with the main bus while somebody looks.
    pub side_channels: u8,
    /// An offline render: the audio thread may wait for room, so that all of it is measured.
    pub offline: bool,
}

/// One plug-in instance.
///
/// Every method is for any thread but the audio thread: each takes a short lock of this layer or allocates. The
/// audio thread has the [`Tap`], and takes none of these locks.
pub struct Layer {
    shared: Arc<SharedState>,
    worker: Option<Thread>,
}

impl Layer {
    /// Registers with the process's worker, and starts it with the first layer.
    ///
    /// If the system gives no thread, the layer exists all the same and [`Self::trouble`] says so; the next layer
    /// tries again.
    pub fn join() -> Arc<Self> {
        let shared = Arc::new(SharedState::new());
        let worker = registry::join(&shared);
        Arc::new(Self { shared, worker })
    }

    /// Makes the queue for the audio to come and returns its audio end. The tap of an earlier opening, which should
    /// be gone by now, is retired; what it handed over is still measured, and comes first. The delay line that a trial
    /// needs is allocated here too, and a trial that is on goes on from the first frame.
    ///
    /// # Errors
    /// A rate outside what Plumbline measures; nothing has changed then.
    pub fn open(self: &Arc<Self>, format: Format) -> Result<Tap, RateError> {
        let format = StreamFormat {
            rate: SampleRate::from_host(format.rate_hz)?,
            channels: format.channels.clamp(1, 2),
            side_channels: format.side_channels.min(2),
            offline: format.offline,
        };
        let queue = Arc::new(AudioQueue::new(format, Arc::clone(&self.shared.counts), self.worker.clone()));
        let former = self.shared.ask(|inbox| {
            queue.trial.put(&ChannelDelays::of(inbox.settings.trial, &format));
            inbox.opened.push(Arc::clone(&queue));
            inbox.current.replace(Arc::clone(&queue))
        });
        if let Some(former) = former {
            former.retired.store(true, Ordering::Release);
        }
        self.wake();
        Ok(Tap::new(queue))
    }

    /// The newest view. Views are made while the layer is watched (`Settings::watched`); before the first it is an
    /// empty one with serial 0.
    pub fn view(&self) -> Arc<View> {
        Arc::clone(&lock(&self.shared.view))
    }

    /// Serial of the newest view, without a lock.
    pub fn serial(&self) -> u64 {
        self.shared.serial.load(Ordering::Acquire)
    }

    /// Changes what the layer is set to, held to its bounds. The name is cut to 64 bytes, and what cannot be shown becomes a
    /// space. Other band edges start averages afresh; another session starts its shares afresh.
    ///
    /// A trial delays this layer, inverts its polarity, or both, until none is set; in an offline render only if it says so.
    /// The audio thread fades over within some 120 ms: it takes in as much sound as the delay is long, then fades for
    /// 20 ms. A delay under 32 samples is rounded to whole samples, since a fraction needs that much sound on both sides. No
    /// trial adds latency.
    pub fn change(&self, change: impl FnOnce(&mut Settings)) {
        self.shared.ask(|inbox| {
            let before = inbox.settings.trial;
            let mut settings = inbox.settings.clone();
            change(&mut settings);
            settings.identity.name = clean_name(&settings.identity.name);
            inbox.settings = settings.sane();
            let open = inbox.current.as_ref().filter(|queue| !queue.closed.load(Ordering::Acquire));
            if let Some(queue) = open.filter(|_| inbox.settings.trial != before) {
                queue.trial.put(&ChannelDelays::of(inbox.settings.trial, &queue.format));
            }
        });
        self.wake();
    }

    /// What the layer is set to.
    pub fn settings(&self) -> Settings {
        self.shared.look(|inbox| inbox.settings.clone())
    }

    /// Gives a command. At most a thousand marks are kept, song and clock together; the earliest in time goes first.
    pub fn send(&self, command: Command) {
        if self.settings().obey(&command) {
            self.change(|settings| {
                settings.obey(&command);
            });
            return;
        }
        self.shared.ask(|inbox| marks::enqueue(&mut inbox.commands, command));
        self.wake();
    }

    /// The marks, ascending: as the worker has them, and what was commanded since. [`Command::Mark`] counts once the worker
    /// has found the place.
    pub fn marks(&self) -> Vec<Mark> {
        self.shared.look(|inbox| {
            let mut marks = lock(&self.shared.marks).clone();
            inbox.commands.iter().for_each(|command| {
                marks::apply(&mut marks, command);
            });
            marks
        })
    }

    /// The layer's own number: the same for its whole life, other for every instance.
    pub fn id(&self) -> LayerId {
        self.shared.born.id
    }

    /// Sets what is called after each new view, from the worker and with no lock held; a call may still be under
    /// way when this returns. It should only ask for a repaint. A callback that panics is dropped, and
    /// [`Self::trouble`] says so.
    pub fn set_notify(&self, notify: Option<Box<dyn Fn() + Send + Sync>>) {
        // The former callback is dropped out of the lock: what it holds may want to ask something of this layer.
        let former = self.shared.ask(|inbox| std::mem::replace(&mut inbox.notify, notify.map(Arc::from)));
        drop(former);
    }

    /// Reads the history. The worker waits meanwhile, so keep it short, and do not call this method again inside.
    pub fn with_history<R>(&self, f: impl FnOnce(&History) -> R) -> R {
        f(&lock(&self.shared.history))
    }

    /// Whether nothing is left to do: no tap is open, all audio handed over is in the history, all orders are since_reset
    /// out, and, if watched, the newest view shows it. For an offline run that wants its result.
    pub fn is_settled(&self) -> bool {
        self.shared.is_settled()
    }

    /// What keeps this layer from being measured, in words, with the way out.
    pub fn trouble(&self) -> Option<String> {
        lock(&self.shared.trouble).clone()
    }

    /// Blocks whose slices did not fit the format, ever: other channel counts or unequal lengths.
    pub fn misfits(&self) -> u64 {
        self.shared.counts.misfits.load(Ordering::Relaxed)
    }

    /// Frames of side-chain audio that reached the worker, ever.
    pub fn side_frames(&self) -> u64 {
        self.shared.counts.side_frames.load(Ordering::Relaxed)
    }

    fn wake(&self) {
        if let Some(worker) = &self.worker {
            worker.unpark();
        }
    }
}

impl Drop for Layer {
    /// Leaves the worker; the last layer waits until the worker has ended.
    fn drop(&mut self) {
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
