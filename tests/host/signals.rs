//! Signals that only a bit-exact path leaves unchanged.

/// Bit patterns that arithmetic would change: both zeros, quiet and signalling NaNs with payloads, infinities, the
/// smallest and largest denormals, the largest number.
const AWKWARD: [u32; 12] = [
    0x0000_0000,
    0x8000_0000,
    0x7fc1_2345,
    0x7f81_2345,
    0xffc5_4321,
    0xff85_4321,
    0x7f80_0000,
    0xff80_0000,
    0x0000_0001,
    0x807f_ffff,
    0x7f7f_ffff,
    0x0040_0000,
];

/// Channels of random bit patterns, [`AWKWARD`] ones included, different in each channel.
pub(crate) fn arbitrary_bits(channels: usize, frames: usize) -> Vec<Vec<f32>> {
    (0..channels)
        .map(|channel| {
            let mut state = 0x9e37_79b9_u32.wrapping_add(u32::try_from(channel).expect("few channels"));
            (0..frames)
                .map(|frame| {
                    // Xorshift (Marsaglia 2003), so that any bit pattern may occur.
                    state ^= state << 13;
                    state ^= state >> 17;
                    state ^= state << 5;
                    let awkward = AWKWARD[(frame / 3 + 5 * channel) % AWKWARD.len()];
                    f32::from_bits(if frame % 3 == 0 { awkward } else { state })
                })
                .collect()
        })
        .collect()
}

/// As [`arbitrary_bits`], but no block of a channel has only zeros and denormals: the VST3 host library treats
/// denormals as silence, and replaces a silent block with zeros.
pub(crate) fn arbitrary_bits_never_silent(channels: usize, frames: usize, block: usize) -> Vec<Vec<f32>> {
    let mut signal = arbitrary_bits(channels, frames);
    for part in signal.iter_mut().flat_map(|channel| channel.chunks_mut(block)) {
        if part.iter().all(|s| s.abs() < f32::MIN_POSITIVE) {
            part[0] = 1.0;
        }
    }
    signal
}

/// A sine in each channel, with channel `c` ahead by `c` × `phase`.
pub(crate) fn sine(
    channels: usize,
    frames: usize,
    cycles_per_frame: f64,
    level: f64,
    phase: f64,
) -> Vec<Vec<f32>> {
    (0..channels)
        .map(|channel| {
            (0..frames)
                .map(|frame| {
                    let angle = std::f64::consts::TAU * cycles_per_frame * frame as f64;
                    #[expect(
                        clippy::cast_possible_truncation,
                        reason = "a host's samples are single precision"
                    )]
                    let sample = (level * (angle + channel as f64 * phase).sin()) as f32;
                    sample
                })
                .collect()
        })
        .collect()
}

/// Asserts that two signals are bit-exact in all channels and frames.
pub(crate) fn assert_bit_equal(out: &[Vec<f32>], input: &[Vec<f32>], case: &str) {
    assert_eq!(out.len(), input.len(), "{case}: channels");
    for (channel, (out, input)) in out.iter().zip(input).enumerate() {
        assert_eq!(out.len(), input.len(), "{case}: frames of channel {channel}");
        for (frame, (out, input)) in out.iter().zip(input).enumerate() {
            assert_eq!(
                out.to_bits(),
                input.to_bits(),
                "{case}: frame {frame} of channel {channel} is {:08x} for {:08x}",
                out.to_bits(),
                input.to_bits()
            );
        }
    }
}

/// One of four unrelated sounds of 1 kHz at 48 kHz: sine or cosine, in the left channel or the right, at −12 dBFS plus
/// `db`.
pub(crate) fn quadrature(number: usize, frames: usize, db: f64) -> Vec<Vec<f32>> {
    let quarter = std::f64::consts::FRAC_PI_2 * (number % 2) as f64;
    let level = 0.25 * 10.0_f64.powf(db / 20.0);
    let sounding = number / 2;
    (0..2)
        .map(|channel| {
            let level = if channel == sounding { level } else { 0.0 };
            (0..frames)
                .map(|frame| {
                    // A whole number of cycles a second, reduced first: exact at any length.
                    let angle = std::f64::consts::TAU * (frame % 48) as f64 / 48.0;
                    #[expect(
                        clippy::cast_possible_truncation,
                        reason = "a host's samples are single precision"
                    )]
                    let sample = (level * (angle + quarter).sin()) as f32;
                    sample
                })
                .collect()
        })
        .collect()
}

/// A stereo noise and its inverse.
pub(crate) fn opposed(frames: usize) -> [Vec<Vec<f32>>; 2] {
    let mut noise = plumbline_tests::signal::Noise::new(5);
    let one: Vec<Vec<f32>> =
        (0..2).map(|_| plumbline_tests::signal::single(&noise.pink(frames, 0.1, 48_000.0))).collect();
    let other = one.iter().map(|side| side.iter().map(|s| -s).collect()).collect();
    [one, other]
}
