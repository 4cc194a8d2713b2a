//! The host's side of one plug-in instance.

use crate::board::{LETTERS, clean_name};
use crate::desk::{Desk, lock};
use crate::history::History;
use crate::hub;
use crate::link::{Lane, Link};
use crate::tap::Tap;
use crate::trial::Plan;
use plumbline_measure::{BandEdges, RateError, SampleRate};
use plumbline_programme::delivery::Target;
use plumbline_programme::{BalanceTarget, Identity, LayerId, Lens, Mark, Mic, Rules, Trial, View};
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
    desk: Arc<Desk>,
    worker: Option<Thread>,
}

impl Layer {
    /// Registers with the process's worker, and starts it with the first layer.
    ///
    /// If the system gives no thread, the layer exists all the same and [`Self::trouble`] says so; the next layer
    /// tries again.
    pub fn join() -> Arc<Self> {
        let desk = Arc::new(Desk::new());
        let worker = hub::join(&desk);
        Arc::new(Self { desk, worker })
    }

    /// Makes the queue for the audio to come and returns its audio end. The tap of an earlier opening, which should
    /// be gone by now, is retired; what it handed over is still measured, and comes first. The delay line that a trial
    /// needs is allocated here too, and a trial that is on goes on from the first frame.
    ///
    /// # Errors
    /// A rate outside what Plumbline measures; nothing has changed then.
    pub fn open(self: &Arc<Self>, format: Format) -> Result<Tap, RateError> {
        let lane = Lane {
            rate: SampleRate::from_host(format.rate_hz)?,
            channels: format.channels.clamp(1, 2),
            side_channels: format.side_channels.min(2),
            offline: format.offline,
        };
        let link = Arc::new(Link::new(lane, Arc::clone(&self.desk.counts), self.worker.clone()));
        let former = self.desk.order(|o| {
            link.trial.put(&Plan::of(o.trial, &lane));
            o.opened.push(Arc::clone(&link));
            o.current.replace(Arc::clone(&link))
        });
        if let Some(former) = former {
            former.retired.store(true, Ordering::Release);
        }
        self.wake();
        Ok(Tap::new(link))
    }

    /// The newest view. Views are made while the layer is [watched](Self::set_watched); before the first it is an
    /// empty one with serial 0.
    pub fn view(&self) -> Arc<View> {
        Arc::clone(&lock(&self.desk.view))
    }

    /// Serial of the newest view, without a lock.
    pub fn serial(&self) -> u64 {
        self.desk.serial.load(Ordering::Acquire)
    }

    /// The user's reset: averages, holds, maxima, programme and health start afresh behind the audio that has been
    /// handed over by now. The history stays; its epoch counts up.
    pub fn reset(&self) {
        self.ask(|o| o.reset = true);
    }

    /// Sets the delivery target; one that makes no sense becomes the default.
    pub fn set_target(&self, target: Target) {
        self.ask(|o| o.target = target.sane());
    }

    /// Sets the edges of the named bands. Averages start afresh, since they were taken over other bands.
    pub fn set_edges(&self, edges: BandEdges) {
        self.ask(|o| o.edges = edges);
    }

    /// The layer's own number: the same for its whole life, other for every instance.
    pub fn id(&self) -> LayerId {
        self.desk.born.id
    }

    /// Says who this layer is to the others of its session. The name is cut to 64 bytes, and what is not a
    /// character to be shown becomes a space.
    pub fn set_identity(&self, identity: Identity) {
        let identity = Identity { name: clean_name(&identity.name), ..identity };
        self.ask(|o| o.identity = identity);
    }

    /// Joins the session of a letter, A to H; anything else is taken for A. What was counted of another session is
    /// forgotten.
    pub fn set_session(&self, letter: char) {
        let letter = Some(letter.to_ascii_uppercase()).filter(|l| LETTERS.contains(l));
        self.ask(|o| o.letter = letter.unwrap_or(*LETTERS.start()));
    }

    /// Sets the shares that are aimed at; aims that make no sense are dropped.
    pub fn set_balance_target(&self, target: BalanceTarget) {
        self.ask(|o| o.balance_target = target.sane());
    }

    /// Sets the two layers whose tone is compared, `(change, like)`; none takes the default pair.
    pub fn set_pair(&self, pair: Option<(LayerId, LayerId)>) {
        self.ask(|o| o.pair = pair);
    }

    /// Sets two layers that are compared as microphones whatever else is; none takes the choice back. The loudest
    /// layers are compared with each other in any case, and so are the channels of a stereo bus, and the bus with its
    /// side-chain.
    pub fn set_mics(&self, mics: Option<[Mic; 2]>) {
        self.ask(|o| o.mics = mics);
    }

    /// Tries a repair out: delays this layer, turns it upside down, or both, until none is set. In an offline render
    /// only if the trial says so. The audio thread fades over within some 120 ms: it takes in as much sound as the
    /// delay is long, then fades for 20 ms.
    ///
    /// A delay shorter than 32 samples is rounded to whole samples: a fraction needs that much sound on both sides. No
    /// trial adds latency, so a host has nothing to be told and nothing to restart.
    pub fn set_trial(&self, trial: Option<Trial>) {
        let trial = trial.map(Trial::sane).filter(Trial::alters);
        self.desk.order(|o| {
            o.trial = trial;
            if let Some(link) = o.current.as_ref().filter(|link| !link.closed.load(Ordering::Acquire)) {
                link.trial.put(&Plan::of(trial, &link.lane));
            }
        });
        self.wake();
    }

    /// The repair being tried out.
    pub fn trial(&self) -> Option<Trial> {
        self.desk.look(|o| o.trial)
    }

    /// A passage begins at the present position: with the tenth that holds the newest sample that was measured. At
    /// most a thousand marks are kept, song and clock together; the earliest in time goes first.
    pub fn mark(&self) {
        self.ask(|o| o.mark = true);
    }

    /// Takes all marks away.
    pub fn clear_marks(&self) {
        self.ask(|o| {
            o.marks.clear();
            o.mark = false;
        });
    }

    /// The marks, ascending: as the worker has them, and what was ordered since. [`Self::mark`] counts once the worker has
    /// found the place.
    pub fn marks(&self) -> Vec<Mark> {
        self.desk.look(|o| {
            let mut marks = lock(&self.desk.marks).clone();
            o.marks.apply(&mut marks);
            marks
        })
    }

    /// Takes one mark away.
    pub fn unmark(&self, mark: Mark) {
        self.ask(|o| o.marks.remove(mark));
    }

    /// Sets marks at given places.
    pub fn put_marks(&self, marks: Vec<Mark>) {
        self.ask(|o| o.marks.put(marks));
    }

    /// Sets from where on something is a finding. What was found by other rules stays as it was found.
    pub fn set_rules(&self, rules: Rules) {
        self.ask(|o| o.rules = rules);
    }

    /// Sets which stretch of time the lanes of the view show.
    pub fn set_lens(&self, lens: Lens) {
        self.ask(|o| o.lens = lens);
    }

    /// Shows, in the views to come, everything as of the end of a tenth that has passed; none returns to now.
    /// Measuring goes on. Of a tenth that is not in the history, and has none near before it, all readings are absent.
    pub fn rewind(&self, at: Option<Mark>) {
        self.ask(|o| o.rewound = at);
    }

    /// Marks a finding, by its number, as seen to or not.
    pub fn set_seen(&self, finding: u64, seen: bool) {
        self.ask(|o| o.seen.push((finding, seen)));
    }

    /// Whether anyone looks. While nobody does no views are made; tenths, history and programme go on.
    pub fn set_watched(&self, watched: bool) {
        self.ask(|o| {
            o.watched = watched;
            if !watched {
                // Who opens the window again looks at now.
                o.rewound = None;
            }
        });
    }

    /// Sets what is called after each new view, from the worker and with no lock held; a call may still be under
    /// way when this returns. It should only ask for a repaint. A callback that panics is dropped, and
    /// [`Self::trouble`] says so.
    pub fn set_notify(&self, notify: Option<Box<dyn Fn() + Send + Sync>>) {
        // The former callback is dropped out of the lock: what it holds may want to ask something of this layer.
        let former = self.desk.order(|o| std::mem::replace(&mut o.notify, notify.map(Arc::from)));
        drop(former);
    }

    /// Reads the history. The worker waits meanwhile, so keep it short, and do not call this method again inside.
    pub fn with_history<R>(&self, f: impl FnOnce(&History) -> R) -> R {
        f(&lock(&self.desk.history))
    }

    /// Whether nothing is left to do: no tap is open, all audio handed over is in the history, all orders are carried
    /// out, and, if watched, the newest view shows it. For an offline run that wants its result.
    pub fn is_settled(&self) -> bool {
        self.desk.is_settled()
    }

    /// What keeps this layer from being measured, in words, with the way out.
    pub fn trouble(&self) -> Option<String> {
        lock(&self.desk.trouble).clone()
    }

    /// Blocks whose slices did not fit the format, ever: other channel counts or unequal lengths.
    pub fn misfits(&self) -> u64 {
        self.desk.counts.misfits.load(Ordering::Relaxed)
    }

    /// Frames of side-chain audio that reached the worker, ever.
    pub fn side_frames(&self) -> u64 {
        self.desk.counts.side_frames.load(Ordering::Relaxed)
    }

    fn ask(&self, change: impl FnOnce(&mut crate::desk::Orders)) {
        self.desk.order(change);
        self.wake();
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
        let (link, callback) = self.desk.order(|o| (o.current.take(), o.notify.take()));
        if let Some(link) = link {
            link.retired.store(true, Ordering::Release);
        }
        drop(callback);
        hub::leave(&self.desk);
    }
}

impl fmt::Debug for Layer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Layer").field("serial", &self.serial()).finish_non_exhaustive()
    }
}
