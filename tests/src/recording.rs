//! Recordings read from files, each channel as samples in double precision.

use realfft::RealFftPlanner;
use realfft::num_complex::Complex;
use std::fs::File;
use std::path::Path;
use symphonia::core::codecs::audio::AudioDecoderOptions;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, TrackType};
use symphonia::core::io::MediaSourceStream;
use symphonia::core::meta::MetadataOptions;

/// Rate and channels of a file.
///
/// # Panics
/// If the file is damaged, or of a format that is not read here.
pub fn decoded(path: &Path) -> (u32, Vec<Vec<f64>>) {
    let file = File::open(path).expect("the package's file is there");
    let stream = MediaSourceStream::new(Box::new(file), Default::default());
    let mut format = symphonia::default::get_probe()
        .probe(&Hint::new(), stream, FormatOptions::default(), MetadataOptions::default())
        .expect("a known format");
    let track = format.default_track(TrackType::Audio).expect("an audio track");
    let parameters = track.codec_params.as_ref().and_then(|p| p.audio()).expect("audio parameters").clone();
    let mut decoder = symphonia::default::get_codecs()
        .make_audio_decoder(&parameters, &AudioDecoderOptions::default())
        .expect("a known codec");
    let mut channels: Vec<Vec<f64>> = Vec::new();
    while let Some(packet) = format.next_packet().expect("a readable file") {
        let mut planes: Vec<Vec<f64>> = Vec::new();
        decoder.decode(&packet).expect("an intact packet").copy_to_vecs_planar(&mut planes);
        channels.resize(planes.len(), Vec::new());
        for (all, plane) in channels.iter_mut().zip(planes) {
            all.extend(plane);
        }
    }
    (parameters.sample_rate.expect("a rate"), channels)
}

/// The same sound at another rate, band-limited, in the frequency domain (circular).
pub fn resampled(samples: &[f64], from_hz: u32, to_hz: u32) -> Vec<f64> {
    if from_hz == to_hz || samples.is_empty() {
        return samples.to_vec();
    }
    // Whole seconds, so that the bins of both rates are the same frequencies.
    let secs = samples.len().div_ceil(from_hz as usize);
    let (old, new) = (secs * from_hz as usize, secs * to_hz as usize);
    let mut input = samples.to_vec();
    input.resize(old, 0.0);
    let mut planner = RealFftPlanner::<f64>::new();
    let (forward, inverse) = (planner.plan_fft_forward(old), planner.plan_fft_inverse(new));
    let mut bins = forward.make_output_vec();
    forward.process(&mut input, &mut bins).expect("lengths come from the plan");
    bins.resize(new / 2 + 1, Complex::new(0.0, 0.0));
    bins.iter_mut().for_each(|bin| *bin /= old as f64);
    for edge in [0, new / 2] {
        bins[edge].im = 0.0;
    }
    let mut output = vec![0.0; new];
    inverse.process(&mut bins, &mut output).expect("lengths come from the plan");
    output.truncate(samples.len() * to_hz as usize / from_hz as usize);
    output
}
