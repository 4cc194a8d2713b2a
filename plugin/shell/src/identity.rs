//! Names and ids of the two plug-in classes. An id never changes: hosts keep it in their projects.

use nice_plug::prelude::*;

/// The vendor of both classes.
pub const VENDOR: &str = "Plumbline";
/// The description in a host's list.
pub const DESCRIPTION: &str = "Analyser for mix buses: width, mono, phase, loudness and delivery. Passes audio through untouched unless a repair is tried out.";

/// One plug-in class: its names and buses.
///
/// VST3 uses only the first layout of a class, so mono needs its own class there.
pub trait Class: Send + 'static {
    /// Id in CLAP; the VST3 class id is derived from it. Never changes.
    const ID: &'static str;
    /// Name for the user.
    const NAME: &'static str;
    /// Its layouts, the default first.
    const LAYOUTS: &'static [AudioIOLayout];
    /// Categories, the most important first.
    const FEATURES: &'static [ClapFeature];
}

const STEREO: AudioIOLayout = AudioIOLayout {
    main_input_channels: NonZeroU32::new(2),
    main_output_channels: NonZeroU32::new(2),
    names: PortNames {
        layout: Some("Stereo"),
        main_input: Some("Bus"),
        main_output: Some("Bus"),
        ..PortNames::const_default()
    },
    ..AudioIOLayout::const_default()
};

/// For hosts that select it, CLAP only.
///
/// It must not be the first layout, which is the one for VST3: a VST3 host may pass an unrouted bus without channels
/// or with null channels. In the first case the wrapper does not call the plug-in and the track falls silent; in the
/// second the framework dereferences the null.
const STEREO_WITH_SIDE_CHAIN: AudioIOLayout = AudioIOLayout {
    aux_input_ports: &[new_nonzero_u32(2)],
    names: PortNames { layout: Some("Stereo with side-chain"), aux_inputs: &["Side-chain"], ..STEREO.names },
    ..STEREO
};

const MONO: AudioIOLayout = AudioIOLayout {
    main_input_channels: NonZeroU32::new(1),
    main_output_channels: NonZeroU32::new(1),
    names: PortNames {
        layout: Some("Mono"),
        main_input: Some("Bus"),
        main_output: Some("Bus"),
        ..PortNames::const_default()
    },
    ..AudioIOLayout::const_default()
};

/// Stereo in and out; in CLAP also with a stereo side-chain, and mono.
///
/// The name says stereo because a host that inserts this class on a mono track in VST3 makes the track stereo, and
/// louder.
pub struct Stereo;

impl Class for Stereo {
    const ID: &'static str = "plumbline.analyser.stereo";
    const NAME: &'static str = "Plumbline Stereo";
    const LAYOUTS: &'static [AudioIOLayout] = &[STEREO, STEREO_WITH_SIDE_CHAIN, MONO];
    const FEATURES: &'static [ClapFeature] = &[
        ClapFeature::AudioEffect,
        ClapFeature::Analyzer,
        ClapFeature::Mixing,
        ClapFeature::Mastering,
        ClapFeature::Stereo,
    ];
}

/// Mono in and out.
pub struct Mono;

impl Class for Mono {
    const ID: &'static str = "plumbline.analyser.mono";
    const NAME: &'static str = "Plumbline Mono";
    const LAYOUTS: &'static [AudioIOLayout] = &[MONO];
    const FEATURES: &'static [ClapFeature] =
        &[ClapFeature::AudioEffect, ClapFeature::Analyzer, ClapFeature::Mixing, ClapFeature::Mono];
}
