//! Presence of a layer in the mix: sessions of unrelated synthetic sounds with known processing into the mix.

use plumbline_measure::SampleRate;
use plumbline_programme::presence::{Estimate, Passage, Presence, Standing, Told};
use plumbline_tests::cases::Cases;
use plumbline_tests::signal::{self, Noise, delayed, mixed, sine, single};
use realfft::RealFftPlanner;
use realfft::num_complex::Complex;

const RATE: f64 = 48_000.0;
/// Samples in sixteen seconds.
const FRAMES: usize = 16 * 48_000;
/// Samples in a passage.
const STEP: usize = 2 * 48_000;

/// The result after each passage, and its estimates by channel pair.
struct Heard {
    told: Vec<Told>,
    estimates: Vec<Vec<[Estimate; 2]>>,
}

impl Heard {
    fn last(&self) -> Told {
        *self.told.last().expect("passages")
    }

    fn ever(&self, told: Told) -> bool {
        self.told.contains(&told)
    }

    /// The largest estimate of any passage.
    fn most(&self) -> f64 {
        self.estimates.iter().flatten().flatten().map(|e| e.part).fold(f64::NEG_INFINITY, f64::max)
    }
}

fn heard(mix: &[Vec<f64>], layer: &[Vec<f64>]) -> Heard {
    let mut presence = Presence::new(SampleRate::new(48_000).expect("a rate"));
    let mut standing = Standing::default();
    let [mix, layer] = [mix, layer].map(|of| of.iter().map(|c| single(c)).collect::<Vec<_>>());
    let mut found = Heard { told: Vec::new(), estimates: Vec::new() };
    for start in (0..FRAMES).step_by(STEP) {
        let [mix, layer] =
            [&mix, &layer].map(|of| of.iter().map(|c| &c[start..start + STEP]).collect::<Vec<&[f32]>>());
        let evidence = presence.ask(&Passage { mix: &mix, layer: &layer, start: start as i64 });
        found.estimates.push(evidence.as_ref().map_or(Vec::new(), |e| e.estimates().collect()));
        standing.take(evidence);
        found.told.push(standing.told());
    }
    found
}

/// `samples` filtered by a frequency response, circular.
fn filtered(samples: &[f64], response: impl Fn(f64) -> Complex<f64>) -> Vec<f64> {
    signal::filtered(samples, RATE, response)
}

/// Reverberation: noise that falls by 60 dB in `secs`, with unit power.
fn room(samples: &[f64], secs: f64, noise: &mut Noise) -> Vec<f64> {
    let mut response: Vec<f64> =
        (0..samples.len()).map(|n| noise.gauss() * 10_f64.powf(-3.0 * n as f64 / (secs * RATE))).collect();
    let power: f64 = response.iter().map(|x| x * x).sum();
    response.iter_mut().for_each(|x| *x /= power.sqrt());
    let forward = RealFftPlanner::<f64>::new().plan_fft_forward(samples.len());
    let mut bins = forward.make_output_vec();
    forward.process(&mut response, &mut bins).expect("lengths come from the plan");
    let bin_hz = RATE / samples.len() as f64;
    filtered(samples, |hz| {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a place in the spectrum"
        )]
        let bin = (hz / bin_hz).round() as usize;
        bins[bin]
    })
}

fn gained(samples: &[f64], db: f64) -> Vec<f64> {
    samples.iter().map(|x| x * 10_f64.powf(db / 20.0)).collect()
}

/// Footsteps: decaying noise of 60 ms, at the same times for the same `rhythm`.
fn steps(noise: &mut Noise, rhythm: u64) -> Vec<f64> {
    let mut samples = vec![0.0; FRAMES];
    let mut at = 4_800;
    let mut when = Noise::new(rhythm);
    while at < FRAMES - 4_800 {
        for n in 0..2_880 {
            samples[at + n] += 0.3 * noise.gauss() * (-(n as f64) / 700.0).exp();
        }
        at += 14_000 + usize::try_from(when.bits() % 16_000).expect("small");
    }
    samples
}

/// A 2:1 compressor above −26 dB, with an envelope follower of 20 ms.
fn compressed(samples: &[f64]) -> Vec<f64> {
    let mut level = 0.0_f64;
    samples
        .iter()
        .map(|x| {
            level += (x * x - level) / 960.0;
            x * (level.max(2.5e-3) / 2.5e-3).powf(-0.25)
        })
        .collect()
}

fn to_both(sound: &[f64]) -> [Vec<f64>; 2] {
    [sound.to_vec(), sound.to_vec()]
}

/// Adds a sound to both sides with their gains.
fn with(mix: &[Vec<f64>; 2], sound: &[f64], gains: [f64; 2]) -> [Vec<f64>; 2] {
    [mixed(&mix[0], sound, gains[0]), mixed(&mix[1], sound, gains[1])]
}

/// The rest of a mix: an ambience with unrelated channels.
fn ambience(noise: &mut Noise) -> [Vec<f64>; 2] {
    [noise.pink(FRAMES, 0.05, RATE), noise.pink(FRAMES, 0.05, RATE)]
}

#[test]
fn a_layer_that_is_in_the_mix_is_found_whatever_was_done_to_it() {
    let mut noise = Noise::new(0x1b01);
    let rest = ambience(&mut noise);
    let voice = noise.pink(FRAMES, 0.07, RATE);
    let foley = steps(&mut noise, 7);
    let chord: Vec<f64> = [220.0, 277.2, 329.6, 440.0, 1_108.7]
        .iter()
        .fold(vec![0.0; FRAMES], |sum, hz| mixed(&sum, &sine(FRAMES, 0.03, *hz, *hz, RATE), 1.0));
    let one =
        |hz: f64, low: f64, high: f64| Complex::new(if (low..high).contains(&hz) { 1.0 } else { 0.0 }, 0.0);
    let shelf = |hz: f64| (Complex::new(1.0, hz / 900.0) / Complex::new(1.0, hz / 4_000.0)) * 0.4;
    type Way<'a> = (&'a str, &'a [f64], Vec<f64>, [f64; 2]);
    let ways: [Way<'_>; 20] = [
        ("as it is", &voice, voice.clone(), [0.7, 0.7]),
        ("faint steps", &foley, gained(&foley, -12.0), [0.7, 0.7]),
        ("a chord", &chord, chord.clone(), [0.7, 0.7]),
        ("hard right", &voice, voice.clone(), [0.0, 1.0]),
        ("a third left", &voice, voice.clone(), [0.9, 0.4]),
        ("polarity inverted", &voice, voice.clone(), [-0.7, -0.7]),
        ("inverted on one side", &voice, voice.clone(), [0.7, -0.7]),
        ("at −10 dB", &voice, gained(&voice, -10.0), [0.7, 0.7]),
        ("at −15 dB", &voice, gained(&voice, -15.0), [1.0, 1.0]),
        ("at −20 dB", &voice, gained(&voice, -20.0), [1.0, 1.0]),
        ("without its lows", &voice, filtered(&voice, |hz| one(hz, 4_000.0, 24_000.0)), [0.7, 0.7]),
        ("without its highs", &voice, filtered(&voice, |hz| one(hz, 0.0, 300.0)), [0.7, 0.7]),
        ("a telephone", &voice, filtered(&voice, |hz| one(hz, 400.0, 3_000.0)), [0.4, 0.4]),
        ("a shelf", &voice, filtered(&voice, shelf), [0.7, 0.7]),
        ("compressed", &foley, compressed(&foley), [0.7, 0.7]),
        ("with a reverb", &voice, mixed(&voice, &room(&voice, 1.5, &mut noise), 0.7), [0.5, 0.5]),
        ("by its reverb alone", &voice, room(&voice, 1.2, &mut noise), [0.7, 0.7]),
        ("10 ms late", &voice, delayed(&voice, 480.0), [0.7, 0.7]),
        ("60 ms late", &voice, delayed(&voice, 2_880.5), [0.7, 0.7]),
        ("80 ms early", &voice, delayed(&voice, -3_840.0), [0.7, 0.7]),
    ];
    let mut cases = Cases::new("presence of a layer in the mix");
    for (name, layer, sound, gains) in ways {
        let found = heard(&with(&rest, &sound, gains), &[layer.to_vec()]);
        println!("{name:24} {:?} most {:.4}", found.told, found.most());
        cases.holds(format!("{name}: {:?}, most {:.4}", found.told, found.most()), found.last() == Told::In);
        cases.holds(format!("{name} is called out: {:?}", found.told), !found.ever(Told::Out));
    }
    // A stereo layer with its channels swapped, and folded to mono.
    let wide = ambience(&mut noise);
    let narrow: Vec<f64> = mixed(&gained(&wide[0], -6.0), &wide[1], 0.5);
    for (name, mix) in [
        ("wide", [mixed(&rest[0], &wide[0], 1.0), mixed(&rest[1], &wide[1], 1.0)]),
        ("sides changed about", [mixed(&rest[0], &wide[1], 0.7), mixed(&rest[1], &wide[0], 0.7)]),
        ("folded to mono", with(&rest, &narrow, [0.7, 0.7])),
    ] {
        let found = heard(&mix, &wide);
        println!("{name:24} {:?} most {:.4}", found.told, found.most());
        cases.holds(format!("{name}: {:?}", found.told), found.last() == Told::In && !found.ever(Told::Out));
    }
    cases.end(43);
}

#[test]
fn a_muted_layer_is_not_in_the_mix_and_is_back_with_the_first_passage() {
    let mut noise = Noise::new(0x1b02);
    let rest = ambience(&mut noise);
    let voice = noise.pink(FRAMES, 0.07, RATE);
    let foley = steps(&mut noise, 7);
    let others = steps(&mut noise, 7);
    let bright = noise.coloured(FRAMES, 0.05, 0.0, 2_000.0, 16_000.0, RATE);
    let rumble = noise.coloured(FRAMES, 0.1, 0.5, 40.0, 400.0, RATE);
    let wide = ambience(&mut noise);
    let mut cases = Cases::new("presence of a layer in the mix");
    type Silent<'a> = (&'a str, Vec<Vec<f64>>, [Vec<f64>; 2]);
    let silent: [Silent<'_>; 7] = [
        ("a voice", vec![voice.clone()], rest.clone()),
        ("a wide layer", wide.to_vec(), rest.clone()),
        ("steps", vec![foley.clone()], rest.clone()),
        ("steps under other steps", vec![foley.clone()], with(&rest, &others, [0.7, 0.7])),
        ("bright", vec![bright], rest.clone()),
        ("rumble", vec![rumble], rest.clone()),
        ("beside three others", vec![voice.clone()], {
            let more = [noise.pink(FRAMES, 0.07, RATE), noise.pink(FRAMES, 0.05, RATE)];
            with(&with(&rest, &more[0], [0.7, 0.7]), &more[1], [0.2, 0.9])
        }),
    ];
    for (name, layer, mix) in silent {
        let found = heard(&mix, &layer);
        let first = found.told.iter().position(|told| *told == Told::Out);
        println!("{name:24} {:?} most {:.4}", found.told, found.most());
        cases.holds(
            format!("{name} is found: {:?}, {:?}", found.told, found.estimates),
            !found.ever(Told::In),
        );
        cases.holds(format!("{name}: {:?} {:?}", found.told, found.estimates), found.last() == Told::Out);
        cases.holds(format!("{name}: out before 3 s"), first.is_none_or(|at| at >= 1));
    }
    // Muted for ten seconds, then audible.
    let gate: Vec<f64> = (0..FRAMES).map(|n| if n < 5 * STEP { 0.0 } else { 0.7 }).collect();
    let opened: Vec<f64> = voice.iter().zip(&gate).map(|(x, g)| x * g).collect();
    let found = heard(&with(&rest, &opened, [1.0, 1.0]), std::slice::from_ref(&voice));
    println!("{:24} {:?}", "a mute lifted after 10 s", found.told);
    cases.holds(format!("lifted: {:?}", found.told), found.told[4] == Told::Out && found.told[5] == Told::In);
    // The reverse: found, then muted.
    let closed: Vec<f64> = voice.iter().zip(&gate).map(|(x, g)| x * (0.7 - g)).collect();
    let found = heard(&with(&rest, &closed, [1.0, 1.0]), std::slice::from_ref(&voice));
    println!("{:24} {:?}", "muted after 10 s", found.told);
    let was_in = found.told[..5].iter().all(|told| *told == Told::In);
    cases.holds(format!("closed: {:?}", found.told), was_in && found.last() == Told::Out);
    cases.end(23);
}

#[test]
fn nothing_is_claimed_of_what_cannot_be_told() {
    let mut noise = Noise::new(0x1b03);
    let rest = ambience(&mut noise);
    let source = noise.pink(FRAMES, 0.07, RATE);
    let mut mic = |by: f64, gain: f64| {
        let own = noise.pink(FRAMES, 0.02, RATE);
        mixed(&own, &delayed(&source, by), gain)
    };
    let (boom, lavalier) = (mic(224.0, 0.8), mic(0.0, 1.0));
    let hum = mixed(&noise.pink(FRAMES, 0.004, RATE), &sine(FRAMES, 0.05, 100.0, 0.3, RATE), 1.0);
    let hum_mix = with(&rest, &sine(FRAMES, 0.05, 100.0, 1.9, RATE), [0.7, 0.7]);
    let quiet = noise.pink(FRAMES, 0.07, RATE);
    type Case<'a> = (&'a str, Vec<f64>, [Vec<f64>; 2]);
    let cases_of: [Case<'_>; 5] = [
        ("a muted microphone whose neighbour is in the mix", boom, with(&rest, &lavalier, [0.7, 0.7])),
        ("hum from the same mains", hum, hum_mix),
        ("30 dB under the mix", gained(&quiet, -33.0), rest.clone()),
        ("a noise floor", gained(&quiet, -60.0), rest.clone()),
        ("a mix that is silent", quiet.clone(), to_both(&vec![0.0; FRAMES])),
    ];
    let mut cases = Cases::new("presence of a layer in the mix");
    for (name, layer, mix) in cases_of {
        let found = heard(&mix, &[layer]);
        println!("{name:50} {:?} most {:.4}", found.told, found.most());
        cases.holds(format!("{name}: {:?} {:?}", found.told, found.estimates), !found.ever(Told::Out));
    }
    cases.end(5);
}

#[test]
fn chance_calls_no_layer_out_that_is_in_at_the_limit_and_finds_none_that_is_not() {
    let mut cases = Cases::new("presence of a layer in the mix");
    let (mut out, mut found_at_limit, mut found_unrelated) = (0, 0, 0);
    for seed in 0..24 {
        let mut noise = Noise::new(0x1b04 + seed);
        let rest = [noise.pink(FRAMES, 0.05, RATE), noise.pink(FRAMES, 0.05, RATE)];
        let layer = noise.pink(FRAMES, 0.05 * 10_f64.powf(-(seed as f64 % 4.0) * 3.0 / 20.0), RATE);
        let limit = heard(&with(&rest, &gained(&layer, -18.0), [1.0, 1.0]), std::slice::from_ref(&layer));
        out += u32::from(limit.ever(Told::Out));
        found_at_limit += u32::from(limit.ever(Told::In));
        found_unrelated += u32::from(heard(&rest, &[layer]).ever(Told::In));
    }
    println!("at −18 dB: {out} of 24 called out, {found_at_limit} found; unrelated: {found_unrelated} found");
    cases.holds(format!("{out} of 24 layers at −18 dB are called out"), out == 0);
    cases.holds(format!("{found_unrelated} of 24 muted layers are found"), found_unrelated == 0);
    cases.end(2);
}
