//! Time: past moments are shown as they were, and lanes, findings and statistics follow any transport.

use crate::rig::{OFFLINE, STEREO, my_turn, noise, play, settle, song, song_tenths, wait_for};
use plumbline_live::{Format, Layer, Stamp, Tap};
use plumbline_measure::{Grid, Loudness, Readings};
use plumbline_programme::findings::Kind;
use plumbline_programme::session::BalanceVerdict;
use plumbline_programme::{Command, Identity, Mark, Role, TimeWindow, View};
use std::sync::Arc;

/// Frames of a tenth at 48 kHz.
const TENTH: usize = 4_800;

fn at(index: i64) -> Mark {
    Mark { grid: Grid::Song, index }
}

/// Asks for lanes with one column per tenth.
fn fine(layer: &Layer) {
    layer.change(|settings| settings.window = TimeWindow { tenths: Some(400), end: Some(300), columns: 400 });
}

/// Tenths with audio in the lanes of a view.
fn shown(view: &View) -> Vec<i64> {
    let lanes = &view.lanes;
    assert_eq!(lanes.per_column, 1);
    (lanes.first..)
        .zip(&lanes.columns)
        .filter(|(_, column)| column.tenths > 0)
        .map(|(index, _)| index)
        .collect()
}

/// Whether a value differs from the shown one by at most the packing error.
fn same(a: Option<f64>, b: Option<f64>, within: f64) -> bool {
    match (a, b) {
        (None, None) => true,
        (Some(a), Some(b)) => a == b || (a - b).abs() <= within,
        _ => false,
    }
}

fn assert_same_readings(was: &Readings, is: &Readings, what: &str) {
    let pairs = [
        (was.level_dbfs, is.level_dbfs, 0.003),
        (was.channel_dbfs[0], is.channel_dbfs[0], 0.003),
        (was.channel_dbfs[1], is.channel_dbfs[1], 0.003),
        (was.side_share, is.side_share, 0.000_8),
        (was.correlation, is.correlation, 0.003),
        (was.coherence, is.coherence, 1e-5),
        (was.out_of_step, is.out_of_step, 1e-5),
        (was.balance_db, is.balance_db, 0.006),
        (was.mono_loss_db, is.mono_loss_db, 0.007),
    ];
    for (place, (was, is, within)) in pairs.into_iter().enumerate() {
        assert!(same(was, is, within), "{what}, reading {place}: {was:?} was shown, {is:?} came back");
    }
}

fn assert_same(was: &View, is: &View, what: &str) {
    for (was, is) in was.averages.iter().zip(&is.averages) {
        assert_same_readings(&was.whole, &is.whole, what);
        was.thirds.iter().zip(&is.thirds).for_each(|(w, i)| assert_same_readings(w, i, what));
        was.bands.iter().zip(&is.bands).for_each(|(w, i)| assert_same_readings(w, i, what));
        assert!(is.lines_dbfs.is_empty());
    }
    assert_eq!(was.meters, is.meters, "{what}");
    // Sums over all tenths since reset are updated as tenths come out, 171 ms after they end.
    let now = |l: &Loudness| Loudness { integrated_lufs: None, range_lu: None, measured_secs: 0.0, ..*l };
    assert_eq!(now(&was.loudness), now(&is.loudness), "{what}");
    assert_eq!(was.verdicts.width, is.verdicts.width, "{what}");
    assert_eq!(was.verdicts.mono, is.verdicts.mono, "{what}");
}

/// Plays one tenth, and waits for the view of its end.
fn play_tenth(layer: &Layer, tap: &mut Tap, from: usize, audio: &[Vec<f32>; 2]) -> Arc<View> {
    play(tap, from, audio, 64);
    let end = (from + audio[0].len()) as i64 - 1;
    wait_for("the view of the end of the tenth", || {
        let view = layer.view();
        view.clock.position.sample == end && view.past.is_none()
    });
    layer.view()
}

/// Tenths of changing width, level and polarity.
fn tenth(k: usize, frames: usize) -> [Vec<f32>; 2] {
    let [a, b] = noise(700 + k as u64, frames, if k.is_multiple_of(3) { 0.2 } else { 0.03 });
    let sign = if k % 7 == 6 { -1.0 } else { 1.0 };
    let right = a.iter().zip(&b).map(|(x, y)| sign * (x * 0.6 + y * (k % 5) as f32 * 0.2)).collect();
    [a, right]
}

fn rewound(layer: &Layer, index: i64) -> Arc<View> {
    layer.change(|settings| settings.rewound = Some(at(index)));
    wait_for("the moment", || layer.view().past.is_some_and(|past| past.at == at(index)));
    layer.view()
}

#[test]
fn what_was_shown_comes_back_also_after_a_loop_and_after_a_change_of_rate() {
    let _turn = my_turn();
    let layer = Layer::join();
    layer.change(|settings| settings.watched = true);
    let mut tap = layer.open(STEREO).unwrap();
    let mut seen: Vec<(i64, Arc<View>)> = Vec::new();
    for k in 0..30 {
        seen.push((k as i64, play_tenth(&layer, &mut tap, k * TENTH, &tenth(k, TENTH))));
    }
    // A loop: tenths 10 to 14 again, with other sound.
    for k in 10..15 {
        let view = play_tenth(&layer, &mut tap, k * TENTH, &tenth(k + 100, TENTH));
        seen.retain(|(index, _)| *index != k as i64);
        seen.push((k as i64, view));
    }
    settle(&layer, tap);
    // Another rate, at a later position.
    let mut tap = layer.open(Format { rate_hz: 96_000.0, ..STEREO }).unwrap();
    for k in 40..50 {
        seen.push((k as i64, play_tenth(&layer, &mut tap, k * 9_600, &tenth(k, 9_600))));
    }
    settle(&layer, tap);
    let mut cases = 0;
    for (index, was) in &seen {
        let is = rewound(&layer, *index);
        assert_same(was, &is, &format!("tenth {index}"));
        assert!(is.past.is_some_and(|past| !past.rebuilt));
        cases += 1;
    }
    assert_eq!(cases, 40);
    layer.change(|settings| settings.rewound = None);
    wait_for("now", || layer.view().past.is_none());
    assert!(!layer.view().averages[1].lines_dbfs.is_empty(), "the present has its lines again");
}

#[test]
fn measuring_goes_on_while_the_past_is_looked_at() {
    let _turn = my_turn();
    let layer = Layer::join();
    layer.change(|settings| settings.watched = true);
    let mut tap = layer.open(STEREO).unwrap();
    for k in 0..5 {
        play_tenth(&layer, &mut tap, k * TENTH, &tenth(k, TENTH));
    }
    let before = rewound(&layer, 2);
    play(&mut tap, 5 * TENTH, &noise(1, 10 * TENTH, 0.1), 512);
    wait_for("what goes on", || layer.view().clock.position.sample == 15 * 4_800 - 1);
    let view = layer.view();
    assert_eq!(view.past.map(|p| p.at), Some(at(2)));
    assert_eq!((view.meters, view.averages[1].whole), (before.meters, before.averages[1].whole));
    assert!(view.lanes.newest > 4, "the lanes continue");
    settle(&layer, tap);
    assert_eq!(song_tenths(&layer).len(), 15);
    // After the window is closed and opened again it shows the present.
    layer.change(|settings| settings.watched = false);
    layer.change(|settings| settings.watched = true);
    wait_for("now", || layer.view().past.is_none());
}

#[test]
fn a_moment_that_nobody_looked_at_is_made_again_from_tenths() {
    let _turn = my_turn();
    let layer = Layer::join();
    let mut tap = layer.open(OFFLINE).unwrap();
    let [a, b] = noise(5, 60 * TENTH, 0.1);
    let right = a.iter().zip(&b).map(|(x, y)| 0.8 * x + 0.6 * y).collect();
    play(&mut tap, 0, &[a, right], 512);
    tap.close();
    wait_for("the audio to be measured", || layer.is_settled());
    layer.change(|settings| settings.watched = true);
    wait_for("a view", || layer.serial() > 0);
    let now = layer.view();
    let view = rewound(&layer, 40);
    assert!(view.past.is_some_and(|past| past.rebuilt));
    // Steady sound has the same readings then and now, within the scatter of a slow average of noise.
    let (was, is) = (now.averages[1].whole, view.averages[1].whole);
    assert!(same(was.level_dbfs, is.level_dbfs, 0.3), "{was:?} {is:?}");
    assert!(
        same(was.correlation, is.correlation, 0.05) && same(was.coherence, is.coherence, 0.1),
        "{was:?} {is:?}"
    );
    assert_eq!(view.averages[2].whole, Readings::default(), "since reset is no longer known");
    let tenths = song_tenths(&layer);
    assert_eq!(view.loudness.short_term_lufs, tenths[40].short_term.get());
    // A tenth without audio shows the previous one; a tenth far from all others shows nothing.
    assert_eq!(rewound_at(&layer, 62), Some(at(59)));
    // The same if the audio before it ended a second earlier.
    assert_eq!(rewound_at(&layer, 70), Some(at(70)));
    assert_eq!(layer.view().averages[1].whole, Readings::default());
    assert_eq!(rewound_at(&layer, 900), Some(at(900)));
    let view = layer.view();
    assert!(view.past.is_some_and(|past| past.absent && !past.rebuilt));
    assert_eq!((view.averages[1].whole, view.loudness), (Readings::default(), Loudness::default()));
}

#[test]
fn the_balance_of_a_moment_is_judged_by_the_layers_that_sounded_then() {
    let _turn = my_turn();
    let layers: Vec<Arc<Layer>> = [Role::Mix, Role::Natural, Role::Foley]
        .map(|role| {
            let layer = Layer::join();
            layer.change(|settings| {
                settings.identity = Identity { name: role.name().to_owned(), role, colour: None }
            });
            layer.change(|settings| settings.session = 'H');
            layer
        })
        .into();
    let mut taps: Vec<Tap> = layers.iter().map(|layer| layer.open(OFFLINE).unwrap()).collect();
    // 6 s of natural sound alone, then Foley alone.
    let [sound, silence] = [noise(8, 6 * 10 * TENTH, 0.1), [vec![0.0; 60 * TENTH], vec![0.0; 60 * TENTH]]];
    for (part, [natural, foley]) in [[&sound, &silence], [&silence, &sound]].into_iter().enumerate() {
        for (tap, audio) in taps.iter_mut().zip([&sound, natural, foley]) {
            play(tap, part * 60 * TENTH, audio, 512);
        }
    }
    taps.into_iter().for_each(Tap::close);
    wait_for("the audio to be measured", || layers.iter().all(|layer| layer.is_settled()));
    layers[0].change(|settings| settings.watched = true);
    wait_for("the others", || layers[0].view().session.layers.len() == 3);
    let judged = |index| {
        layers[0].change(|settings| settings.rewound = Some(at(index)));
        wait_for("the moment", || layers[0].view().past.is_some_and(|past| past.at == at(index)));
        layers[0].view().verdicts.balance
    };
    let off = |verdict| match verdict {
        BalanceVerdict::Off { role: Role::Natural, share, .. } => share,
        other => panic!("{other:?}"),
    };
    assert!(off(judged(55)) > 0.99, "natural sound alone is above its aim");
    assert!(off(judged(115)) < 0.01, "there is no natural sound later");
}

/// The moment shown when a given one is requested.
fn rewound_at(layer: &Layer, index: i64) -> Option<Mark> {
    let before = layer.serial();
    layer.change(|settings| settings.rewound = Some(at(index)));
    wait_for("a view", || layer.serial() > before + 1 || layer.is_settled() && layer.serial() > before);
    layer.view().past.map(|past| past.at)
}

#[test]
fn stop_jump_loop_and_punch_in() {
    let _turn = my_turn();
    let layer = Layer::join();
    fine(&layer);
    let mut tap = layer.open(OFFLINE).unwrap();
    // Plays 0 to 3 s, stops for a second, goes on to 4 s.
    play(&mut tap, 0, &noise(1, 30 * TENTH, 0.1), 512);
    let quiet = [vec![0.0; 10 * TENTH], vec![0.0; 10 * TENTH]];
    tap.push(Stamp { song: Some(30 * 4_800), playing: false }, &[&quiet[0], &quiet[1]], &[]);
    play(&mut tap, 30 * TENTH, &noise(2, 10 * TENTH, 0.1), 512);
    // Jumps back to 1 s and plays half a second twice: a loop. Then punches in at 20 s.
    for pass in 0..2 {
        play(&mut tap, 10 * TENTH, &noise(3 + pass, 5 * TENTH, 0.01), 512);
    }
    play(&mut tap, 200 * TENTH, &noise(5, 5 * TENTH, 0.1), 512);
    let view = settle(&layer, tap);
    assert_eq!(view.lanes.grid, Grid::Song, "after a stop the song stays visible");
    assert_eq!(shown(&view), (0..40).chain(200..205).collect::<Vec<i64>>());
    assert_eq!((view.lanes.newest, view.lanes.extent), (204, [0, 205]));
    let column = |index: i64| view.lanes.columns[usize::try_from(index - view.lanes.first).unwrap()];
    assert!(view.lanes.columns.iter().all(|c| c.broken == 0));
    let tenths = song_tenths(&layer);
    for index in 0..40_i64 {
        let tenth = tenths.iter().find(|t| t.index == index).unwrap();
        assert_eq!(column(index).short_term.low, tenth.short_term, "tenth {index}");
        let former = column(index).former_short_term.low.get();
        assert_eq!(former.is_some(), (10..15).contains(&index), "tenth {index}: {former:?}");
    }
    // Half a second has room for one long window in its middle.
    assert!(column(12).former_width.high.get().is_some());
    assert_eq!(view.health.jumps, 3);
}

#[test]
fn a_loop_of_four_seconds_fills_lanes_that_follow() {
    let _turn = my_turn();
    let layer = Layer::join();
    layer.change(|settings| settings.watched = true);
    layer.change(|settings| settings.window = TimeWindow::default());
    let mut tap = layer.open(OFFLINE).unwrap();
    // Two seconds of pre-roll precede it, and the loop begins and ends inside a tenth.
    play(&mut tap, 48_000 - 2 * 48_000 / 3, &noise(1, 2 * 48_000 / 3, 0.1), 512);
    let mut edges = std::collections::BTreeSet::new();
    for pass in 0..4 {
        // Whole chunks, so that the latest frame is measured; each pass ends at a different place in its last tenth,
        // which tells the passes apart.
        let chunks = 2_993 + usize::try_from(pass).expect("few");
        let (from, frames) = (48_000 + 1_234, 64 * chunks);
        play(&mut tap, from, &noise(2 + pass, frames, 0.1), 512);
        let end = (from + frames) as i64 - 1;
        wait_for("the pass", || layer.view().clock.position.sample == end);
        let lanes = Arc::clone(&layer.view().lanes);
        let filled = lanes.columns.iter().filter(|column| column.tenths > 0).count();
        if pass > 1 {
            edges.insert((lanes.left, lanes.right));
            assert!(lanes.again && lanes.follows, "{lanes:?}");
            assert!(filled * 10 >= lanes.columns.len() * 8, "{filled} of {} columns", lanes.columns.len());
        }
    }
    assert_eq!(edges.len(), 1, "the edges do not move: {edges:?}");
    drop(tap);
}

#[test]
fn a_host_without_a_position_and_a_tempo_that_changes() {
    let _turn = my_turn();
    let layer = Layer::join();
    layer.change(|settings| settings.window = TimeWindow { tenths: None, end: None, columns: 200 });
    let mut tap = layer.open(OFFLINE).unwrap();
    let [left, right] = noise(1, 20 * TENTH, 0.1);
    tap.push(Stamp { song: None, playing: true }, &[&left, &right], &[]);
    let view = settle(&layer, tap);
    assert_eq!(view.lanes.grid, Grid::Clock);
    let heard: u32 = view.lanes.columns.iter().map(|c| c.tenths).sum();
    assert!((20..=21).contains(&heard), "{heard} tenths");
    // Positions are in samples at any tempo; an error of a few samples at a tempo change is not a jump.
    let mut tap = layer.open(OFFLINE).unwrap();
    for block in 0..40_usize {
        let slip = if block > 20 { 5 } else { 0 };
        let stamp = song(block * 2_400 + slip);
        tap.push(stamp, &[&left[..2_400], &right[..2_400]], &[]);
    }
    let view = settle(&layer, tap);
    assert_eq!((view.lanes.grid, view.health.jumps), (Grid::Song, 0));
    assert_eq!(view.lanes.extent, [0, 20]);
}

#[test]
fn a_bounce_is_in_the_lanes_whole() {
    let _turn = my_turn();
    let layer = Layer::join();
    layer.change(|settings| settings.watched = true);
    layer.change(|settings| settings.window = TimeWindow { tenths: None, end: None, columns: 100 });
    let mut tap = layer.open(OFFLINE).unwrap();
    play(&mut tap, 0, &noise(1, 600 * TENTH, 0.1), 1_024);
    let view = settle(&layer, tap);
    let heard: u32 = view.lanes.columns.iter().map(|c| c.tenths).sum();
    assert_eq!((heard, view.lanes.extent), (600, [0, 600]));
    assert_eq!(view.log.passages.len(), 1);
    assert_eq!(view.log.passages[0].secs, 60.0);
    assert_eq!(view.log.passages[0].loudness.integrated_lufs, view.loudness.integrated_lufs);
    assert_eq!(view.log.passages[0].loudness.true_peak_dbtp, view.loudness.true_peak_dbtp);
}

#[test]
fn passages_lie_between_marks_and_a_mark_can_come_from_the_host() {
    let _turn = my_turn();
    let layer = Layer::join();
    layer.change(|settings| settings.watched = true);
    let mut tap = layer.open(OFFLINE).unwrap();
    play(&mut tap, 0, &noise(1, 40 * TENTH, 0.1), 480);
    tap.mark();
    play(&mut tap, 40 * TENTH, &noise(2, 40 * TENTH, 0.01), 480);
    settle(&layer, tap);
    layer.send(Command::PutMarks(vec![at(60)]));
    wait_for("the passages", || layer.view().log.passages.len() == 4);
    let view = layer.view();
    assert_eq!(view.log.marks, [at(40), at(60)]);
    let [all, first, second, third] = &view.log.passages[..] else { panic!("four lines") };
    assert_eq!((all.secs, first.secs, second.secs, third.secs), (8.0, 4.0, 2.0, 2.0));
    assert_eq!(
        [first.start, first.end, second.start, second.end, third.start, third.end],
        [0, 40, 40, 60, 60, 80]
    );
    // 20 dB less from the mark on. White noise of RMS 0.1, −20 dB a channel, reads −13.85 LUFS: the K-weighting of
    // BS.1770-5 integrated over a flat spectrum, computed for `reference::bs1770`.
    let loud = first.loudness.integrated_lufs.unwrap();
    let quiet = third.loudness.integrated_lufs.unwrap();
    assert!((loud - quiet - 20.0).abs() < 0.2, "{loud} and {quiet} LUFS");
    assert!((loud + 13.85).abs() < 0.1, "{loud} LUFS");
    layer.send(Command::Unmark(at(40)));
    wait_for("one mark less", || layer.view().log.passages.len() == 3);
    assert_eq!(layer.marks(), [at(60)]);
}

#[test]
fn a_finding_is_logged_seen_and_taken_back_by_a_pass_without_it() {
    let _turn = my_turn();
    let layer = Layer::join();
    layer.change(|settings| settings.watched = true);
    let mut tap = layer.open(OFFLINE).unwrap();
    let mut audio = noise(1, 100 * TENTH, 0.1);
    // The right channel is dead from 3 s to 5 s; three samples clip at 7 s.
    audio[1][30 * TENTH..50 * TENTH].fill(0.0);
    audio[0][70 * TENTH..70 * TENTH + 3].fill(1.0);
    play(&mut tap, 0, &audio, 480);
    let view = settle(&layer, tap);
    let found: Vec<_> = view.log.findings.iter().map(|f| (f.kind, f.start, f.end, f.open)).collect();
    assert!(found.contains(&(Kind::OneSided, 30, 50, false)), "{found:?}");
    assert!(found.contains(&(Kind::Clipped, 70, 71, false)), "{found:?}");
    let dead = view.log.findings.iter().find(|f| f.kind == Kind::OneSided).unwrap();
    assert_eq!((dead.worst, dead.right), (f64::INFINITY, Some(true)));
    layer.send(Command::SetDone(dead.id, true));
    wait_for("the tick", || layer.view().log.findings.iter().any(|f| f.seen));
    let mut tap = layer.open(OFFLINE).unwrap();
    play(&mut tap, 20 * TENTH, &noise(2, 20 * TENTH, 0.1), 480);
    let view = settle(&layer, tap);
    let found: Vec<_> = view.log.findings.iter().map(|f| (f.kind, f.start, f.end, f.seen)).collect();
    assert_eq!(
        found.iter().filter(|f| f.0 == Kind::OneSided).collect::<Vec<_>>(),
        [&(Kind::OneSided, 40, 50, true)]
    );
}
