//! Pairs of microphones through the built plug-in: found in the session, at the side-chain and between the channels of
//! a bus; repaired by a trial; without a number if there is no delay.

use crate::session_rig::{SessionRig, view_once};
use crate::{STEREO, assert_quiet};
use plumbline_measure::FrameRate;
use plumbline_programme::pair::{Advice, CannotTell, Polarity, Side};
use plumbline_programme::{Mic, PairLine, Role, Trial, View};
use plumbline_tests::rig::clap::{Label, Library};
use plumbline_tests::rig::readings::Port;
use plumbline_tests::rig::{Moment, bundles, child};
use plumbline_tests::signal::{Noise, delayed, mixed, single};

const RATE: f64 = 48_000.0;
const BLOCK: usize = 4_800;
/// Frames of each pass: 14 s, more than the 10 s that vote.
const FRAMES: usize = 14 * 48_000;
/// Passes until the test gives up; on an idle computer one is enough.
const MOST_TAKES: usize = 12;
/// Tolerance of a delay, in samples.
const NEAR: f64 = 0.1;
/// The boom's delay relative to the lavalier, in samples: 4.66 ms, 1.60 m (ISO 9613-1: 343.2 m/s at 20 °C).
const PLANTED: f64 = 223.7;

/// Two microphones on one source, each with its own noise 18 dB below it; the second `by` samples late, with `sign`.
fn two(seed: u64, by: f64, sign: f64) -> [Vec<Vec<f32>>; 2] {
    let mut noise = Noise::new(seed);
    let source = noise.pink(FRAMES, 0.1, RATE);
    let late: Vec<f64> = delayed(&source, by).iter().map(|x| x * sign).collect();
    [source, late].map(|sound| {
        let heard = single(&mixed(&sound, &noise.pink(FRAMES, 0.012, RATE), 1.0));
        vec![heard.clone(), heard]
    })
}

fn samples(line: &PairLine) -> Option<f64> {
    line.reading.outcome.ok().map(|agreed| agreed.delay_secs * RATE)
}

/// The pair of two layers by name, and the sign of its delay: −1 if it lists them in the other order.
fn line_of(view: &View, names: [&str; 2]) -> Option<(PairLine, f64)> {
    let id =
        |name: &str| view.session.layers.iter().find(|l| l.identity.name == name).map(|l| Mic::Layer(l.id));
    let two = [id(names[0])?, id(names[1])?];
    let line = view.mics.line(two)?.clone();
    let sign = if line.mics == two { 1.0 } else { -1.0 };
    Some((line, sign))
}

fn found(view: &View, names: [&str; 2]) -> Option<f64> {
    let (line, sign) = line_of(view, names)?;
    samples(&line).map(|delay| delay * sign)
}

fn near(delay: Option<f64>, planted: f64) -> bool {
    delay.is_some_and(|delay| (delay - planted).abs() <= NEAR)
}

fn repair(line: &PairLine, own: Side) -> Trial {
    let Advice::Repair(fix) = line.advice(FrameRate::F25, 20.0) else { panic!("no repair: {line:#?}") };
    let trial = Trial::on(own, &fix).expect("the own layer leads");
    // These tests render offline.
    Trial { in_renders: true, ..trial }
}

#[test]
fn a_late_boom_is_found_from_the_session_and_a_trial_on_the_lavalier_mends_it() {
    let Some(quiet) = child::run(&[], || {
        let names = ["lavalier", "boom"];
        let [lavalier, boom] = two(11, PLANTED, 1.0);
        let mix: Vec<Vec<f32>> =
            (0..2).map(|c| lavalier[c].iter().zip(&boom[c]).map(|(a, b)| a + b).collect()).collect();
        let mut rig = SessionRig::offline();
        rig.join("mix", Role::Mix, 'A');
        rig.join(names[0], Role::Natural, 'A');
        rig.join(names[1], Role::Natural, 'A');
        let mut at = 0;
        // A render may run ahead of the comparison, which then skips windows: the passage is repeated until enough is
        // compared.
        let mut play = |rig: &mut SessionRig, what: &str, wanted: &dyn Fn(&View) -> bool| -> Vec<View> {
            for _ in 0..MOST_TAKES {
                rig.play_out(&[&mix, &lavalier, &boom], at);
                at += i64::try_from(FRAMES).unwrap();
                let views: Vec<View> = (0..3).map_while(|layer| rig.view_soon(layer, wanted)).collect();
                if views.len() == 3 {
                    return views;
                }
            }
            panic!("{what} was not found in {MOST_TAKES} takes");
        };
        let views = play(&mut rig, "the planted delay", &|v| near(found(v, names), PLANTED));
        for (watcher, view) in views.iter().enumerate() {
            let (line, _) = line_of(view, names).unwrap();
            let agreed = line.reading.outcome.unwrap();
            assert_eq!(agreed.polarity, Polarity::Same);
            assert!(line.cost_db.is_some_and(|db| db > 1.0), "watcher {watcher}: {:?}", line.cost_db);
            assert_eq!(view.mics.lines[0].mics, line.mics, "the pair with the largest loss comes first");
        }
        let (line, sign) = line_of(&views[1], names).unwrap();
        rig.try_out(1, Some(repair(&line, if sign > 0.0 { Side::First } else { Side::Second })));
        let views = play(&mut rig, "no delay left", &|v| near(found(v, names), 0.0));
        for (watcher, view) in views.iter().enumerate() {
            let lavalier = view.session.layers.iter().find(|l| l.identity.name == names[0]).unwrap();
            assert!(lavalier.altered, "watcher {watcher} learns that it is altered");
            let (line, _) = line_of(view, names).unwrap();
            assert!(matches!(line.advice(FrameRate::F25, 20.0), Advice::Leave(_)), "nothing left to repair");
        }
        rig.try_out(1, None);
        play(&mut rig, "the planted delay again", &|v| near(found(v, names), PLANTED));
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn a_late_boom_is_found_from_the_side_chain_and_a_trial_on_the_bus_mends_it() {
    let Some(quiet) = child::run(&[], || {
        let path = bundles::clap().unwrap();
        let (library, port) = (Library::load(&path).unwrap(), Port::open(&path).unwrap());
        let mut instance = library.create(STEREO, Label::default()).unwrap();
        let with_side = instance.layouts().unwrap().iter().position(|l| l.side_ports > 0).unwrap();
        instance.select_layout(with_side).unwrap();
        instance.set_offline(true).unwrap();
        let mut processor = instance.activate(RATE, BLOCK).unwrap();
        port.watch(0, true).unwrap();
        let [lavalier, boom] = two(12, PLANTED, -1.0);
        let mut at = 0;
        let mut play = |processor: &mut plumbline_tests::rig::clap::Processor| {
            for from in (0..FRAMES).step_by(BLOCK) {
                let block = |signal: &Vec<Vec<f32>>| -> Vec<Vec<f32>> {
                    signal.iter().map(|c| c[from..from + BLOCK].to_vec()).collect()
                };
                let (main, side) = (block(&lavalier), block(&boom));
                let slices = |signal: &'_ [Vec<f32>]| -> Vec<Vec<f32>> { signal.to_vec() };
                let (main, side) = (slices(&main), slices(&side));
                let main: Vec<&[f32]> = main.iter().map(Vec::as_slice).collect();
                let side: Vec<&[f32]> = side.iter().map(Vec::as_slice).collect();
                processor.process(&main, Some(&side), Moment::playing_at(at), &[]).unwrap();
                at += i64::try_from(BLOCK).unwrap();
            }
        };
        let of_side = |view: &View| {
            let line = view.mics.line([Mic::Main, Mic::SideChain]).cloned();
            line.filter(|line| line.reading.outcome.is_ok())
        };
        let delay = |view: &View| of_side(view).as_ref().and_then(samples);
        play(&mut processor);
        let view = view_once(&port, 0, "the planted delay", |v| near(delay(v), PLANTED));
        let line = of_side(&view).unwrap();
        assert_eq!(line.mics, [Mic::Main, Mic::SideChain]);
        assert_eq!(line.reading.outcome.unwrap().polarity, Polarity::Inverted);
        port.try_out(0, Some(repair(&line, Side::First))).unwrap();
        play(&mut processor);
        let view = view_once(&port, 0, "no delay left", |v| near(delay(v), 0.0));
        let agreed = of_side(&view).unwrap().reading.outcome.unwrap();
        assert_eq!(agreed.polarity, Polarity::Same, "inverted as well");
        assert!(view.trial.is_some());
        port.try_out(0, None).unwrap();
        play(&mut processor);
        let view = view_once(&port, 0, "the planted delay again", |v| near(delay(v), PLANTED));
        assert_eq!(view.trial, None);
        instance.deactivate(processor);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn a_late_and_inverted_right_channel_is_found_and_mended_on_its_bus() {
    const LATE: f64 = 55.3;
    let Some(quiet) = child::run(&[], || {
        let [left, right] = two(13, LATE, -1.0);
        let bus = vec![left[0].clone(), right[0].clone()];
        let mut rig = SessionRig::offline();
        rig.join("bus", Role::Mix, 'A');
        rig.play_out(&[&bus], 0);
        let line = |view: &View| view.mics.line([Mic::Left, Mic::Right]).cloned();
        let delay = |view: &View| line(view).as_ref().and_then(samples);
        let view = rig.view_once(0, "the planted delay", |v| near(delay(v), LATE));
        let pair = line(&view).unwrap();
        assert_eq!(pair.reading.outcome.unwrap().polarity, Polarity::Inverted);
        let Advice::Repair(fix) = pair.advice(FrameRate::F25, 20.0) else { panic!("no repair: {pair:#?}") };
        let trial = Trial { in_renders: true, ..Trial::between_channels(&fix) };
        assert!(trial.delay_secs[0] > 0.0 && trial.delay_secs[1] == 0.0, "the leading channel waits");
        rig.try_out(0, Some(trial));
        rig.play_out(&[&bus], i64::try_from(FRAMES).unwrap());
        let view = rig.view_once(0, "no delay left", |v| near(delay(v), 0.0));
        assert_eq!(line(&view).unwrap().reading.outcome.unwrap().polarity, Polarity::Same);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn sound_of_two_places_and_silence_never_give_a_number() {
    let Some(quiet) = child::run(&[], || {
        let mut noise = Noise::new(14);
        let mut stereo =
            || -> Vec<Vec<f32>> { (0..2).map(|_| single(&noise.pink(FRAMES, 0.1, RATE))).collect() };
        let (tower, chisel) = (stereo(), stereo());
        let silence = vec![vec![0.0; FRAMES]; 2];
        let mut rig = SessionRig::offline();
        rig.join("tower", Role::Natural, 'A');
        rig.join("chisel", Role::Foley, 'A');
        rig.join("nobody", Role::Voice, 'A');
        rig.play_out(&[&tower, &chisel, &silence], 0);
        let told = |v: &View, names| line_of(v, names).is_some_and(|(line, _)| line.heard.is_some());
        let names = [["tower", "chisel"], ["tower", "nobody"], ["chisel", "nobody"]];
        let view = rig.view_once(0, "all three pairs", |v| names.iter().all(|two| told(v, *two)));
        for (two, reason) in
            names.iter().zip([CannotTell::Unrelated, CannotTell::OneSilent, CannotTell::OneSilent])
        {
            let (line, _) = line_of(&view, *two).unwrap();
            assert_eq!(line.reading.outcome, Err(reason), "{two:?}");
            assert_eq!(line.cost_db, None, "{two:?}");
        }
        let own = view.mics.line([Mic::Left, Mic::Right]).expect("a stereo bus has two channels");
        assert_eq!(own.reading.outcome, Err(CannotTell::Unrelated));
    }) else {
        return;
    };
    assert_quiet(&quiet);
}
