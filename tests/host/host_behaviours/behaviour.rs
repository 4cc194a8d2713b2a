//! The differences between hosts, and one host as a combination of them.

use super::rng::Rng;
use plumbline_tests::rig::Moment;
use plumbline_tests::rig::clap::Label;

/// The longest block of these hosts.
const LONGEST: usize = 8_192;

/// The kind of track, and how the host fits the plug-in to it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Track {
    Stereo,
    /// A mono track doubles its sound for the stereo class.
    MonoDoubled,
    /// A mono track selects the mono layout of the stereo class.
    MonoSelected,
    /// A mono track sets one channel on the stereo class, or selects the layout if it cannot.
    MonoPushed,
    /// A mono track uses the mono class.
    MonoClass,
    /// A stereo track sends its left channel alone through the mono class.
    LeftAlone,
}

impl Track {
    pub(super) const ALL: [Self; 6] = [
        Self::Stereo,
        Self::MonoDoubled,
        Self::MonoSelected,
        Self::MonoPushed,
        Self::MonoClass,
        Self::LeftAlone,
    ];

    pub(super) fn class(self) -> &'static str {
        if matches!(self, Self::MonoClass | Self::LeftAlone) { crate::MONO } else { crate::STEREO }
    }
}

/// The names and colours that the host gives its tracks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Names {
    AtOnce,
    Never,
    Late,
    Changing,
}

impl Names {
    pub(super) const ALL: [Self; 4] = [Self::AtOnce, Self::Never, Self::Late, Self::Changing];

    /// The label when the instance is created.
    pub(super) fn first(self) -> Label {
        match self {
            Self::AtOnce => Label::new("Tower, west", [200, 80, 40]),
            Self::Changing => Label::new("Track 1", [0, 0, 0]),
            Self::Never | Self::Late => Label::default(),
        }
    }

    /// The later labels, in this order.
    pub(super) fn later(self) -> Vec<Label> {
        match self {
            Self::AtOnce | Self::Never => Vec::new(),
            Self::Late => vec![Label::new("Tower, west", [200, 80, 40])],
            Self::Changing => vec![
                Label { name: None, colour: Some([10, 200, 30]) },
                Label { name: Some("Rope"), colour: None },
                Label::new("Tower, west", [200, 80, 40]),
            ],
        }
    }

    /// The final name of the layer.
    pub(super) fn last(self) -> &'static str {
        if self == Self::Never { "" } else { "Tower, west" }
    }
}

/// The moment when the host asks for the latency.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Latency {
    Never,
    Active,
    Inactive,
    Always,
}

impl Latency {
    pub(super) const ALL: [Self; 4] = [Self::Never, Self::Active, Self::Inactive, Self::Always];

    pub(super) fn asks(self, active: bool) -> bool {
        match self {
            Self::Never => false,
            Self::Active => active,
            Self::Inactive => !active,
            Self::Always => true,
        }
    }
}

/// The host's answer to a request for a restart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Restart {
    /// During the request, on the requesting thread, where the host closes the editor.
    AtOnce,
    Later,
    Never,
    Twice,
}

impl Restart {
    pub(super) const ALL: [Self; 4] = [Self::AtOnce, Self::Later, Self::Never, Self::Twice];
}

/// The length of the blocks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Blocks {
    Of(usize),
    /// Random lengths from 1 to the longest.
    Varying,
}

impl Blocks {
    pub(super) const ALL: [Self; 8] = [
        Self::Of(1),
        Self::Of(17),
        Self::Of(64),
        Self::Of(511),
        Self::Of(512),
        Self::Of(2_048),
        Self::Of(LONGEST),
        Self::Varying,
    ];

    pub(super) fn longest(self) -> usize {
        if let Self::Of(frames) = self { frames } else { LONGEST }
    }

    pub(super) fn next(self, rng: &mut Rng) -> usize {
        match self {
            Self::Of(frames) => frames,
            Self::Varying => {
                let octave = 1 << rng.below(14);
                (octave + rng.below(octave)).min(LONGEST)
            }
        }
    }
}

/// The threads that process.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Threads {
    /// The host's main thread itself.
    Main,
    /// A separate thread.
    Own,
    /// A different thread every few blocks.
    Changing,
}

impl Threads {
    pub(super) const ALL: [Self; 3] = [Self::Main, Self::Own, Self::Changing];
}

/// The transport during the sound.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Transport {
    Runs,
    /// From before the song's start.
    PreRolls,
    /// A loop of 0.6 s.
    Loops,
    /// A position one sample off every 0.1 s, alternately forwards and backwards.
    JumpsByOne,
    NoPosition,
    Stands,
}

impl Transport {
    pub(super) const ALL: [Self; 6] =
        [Self::Runs, Self::PreRolls, Self::Loops, Self::JumpsByOne, Self::NoPosition, Self::Stands];

    /// The transport at a frame of the sound.
    pub(super) fn moment(self, frame: usize, rate_hz: u32) -> Moment {
        let rate = i64::from(rate_hz);
        let frame = i64::try_from(frame).expect("short");
        match self {
            Self::Runs => Moment::playing_at(frame),
            Self::PreRolls => Moment::playing_at(frame - rate / 2),
            Self::Loops => Moment::playing_at(frame % (rate * 6 / 10)),
            Self::JumpsByOne => Moment::playing_at(frame + frame / (rate / 10) % 2),
            Self::NoPosition => Moment { song_frame: None, playing: true },
            Self::Stands => Moment { song_frame: Some(rate), playing: false },
        }
    }
}

/// The host's action in the middle of the sound.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Pause {
    None,
    /// It stops calling for a while, and the sound waits.
    StopsCalling,
    /// It does not call while the input is silent.
    SleepsOnSilence,
    /// It bypasses the plug-in for a while.
    Bypasses,
    /// It resets the plug-in.
    Resets,
}

impl Pause {
    pub(super) const ALL: [Self; 5] =
        [Self::None, Self::StopsCalling, Self::SleepsOnSilence, Self::Bypasses, Self::Resets];
}

/// The fate of the instance.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Life {
    Stays,
    /// Its state is loaded into another instance, and both go on.
    Duplicated,
    /// Its state is loaded into another instance, and it is removed.
    Moved,
    /// It renders, is deactivated, and is activated again.
    Frozen,
    /// It is deactivated and activated at another rate.
    OtherRate,
}

impl Life {
    pub(super) const ALL: [Self; 5] =
        [Self::Stays, Self::Duplicated, Self::Moved, Self::Frozen, Self::OtherRate];
}

/// Rates of these hosts, in Hz.
pub(super) const RATES_HZ: [u32; 3] = [44_100, 48_000, 96_000];

/// One host.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Behaviour {
    pub(super) rate_hz: u32,
    pub(super) track: Track,
    pub(super) names: Names,
    pub(super) latency: Latency,
    pub(super) restart: Restart,
    pub(super) blocks: Blocks,
    pub(super) threads: Threads,
    pub(super) transport: Transport,
    pub(super) pause: Pause,
    pub(super) offline: bool,
    pub(super) life: Life,
    /// Whether its user tries a fractional delay for a moment.
    pub(super) tries: bool,
}

/// A plain host, to which a test adds a behaviour.
pub(super) const PLAIN: Behaviour = Behaviour {
    rate_hz: 48_000,
    track: Track::Stereo,
    names: Names::AtOnce,
    latency: Latency::Active,
    restart: Restart::Later,
    blocks: Blocks::Of(512),
    threads: Threads::Own,
    transport: Transport::Runs,
    pause: Pause::None,
    offline: false,
    life: Life::Stays,
    tries: false,
};

impl Behaviour {
    pub(super) fn random(rng: &mut Rng) -> Self {
        Self {
            rate_hz: rng.pick(&RATES_HZ),
            track: rng.pick(&Track::ALL),
            names: rng.pick(&Names::ALL),
            latency: rng.pick(&Latency::ALL),
            restart: rng.pick(&Restart::ALL),
            blocks: rng.pick(&Blocks::ALL),
            threads: rng.pick(&Threads::ALL),
            transport: rng.pick(&Transport::ALL),
            pause: rng.pick(&Pause::ALL),
            offline: rng.once_in(3),
            life: rng.pick(&Life::ALL),
            tries: rng.once_in(3),
        }
    }
}
