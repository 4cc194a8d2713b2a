use super::fractional_delay::REACH;
use super::*;
use plumbline_measure::SampleRate;
use plumbline_programme::Trial;

/// Frames of a fade at 48 kHz.
const FADE: usize = 960;

fn format(rate_hz: u32) -> StreamFormat {
    StreamFormat { rate: SampleRate::new(rate_hz).unwrap(), channels: 2, side_channels: 0, offline: false }
}

/// A plan of delays in samples at 48 kHz, and of inverted polarities.
fn plan(delays: [f64; 2], flip: [bool; 2]) -> ChannelDelays {
    let trial = Trial { delay_secs: delays.map(|samples| samples / 48_000.0), flip, in_renders: false };
    ChannelDelays::of(Some(trial), &format(48_000))
}

/// An alteration that does nothing yet.
fn wire() -> (Alteration, Mailbox) {
    let mailbox = Mailbox::new();
    (Alteration::new(&format(48_000), &mailbox), mailbox)
}

/// Samples that all differ, so that a delay shows exactly.
fn count(from: usize, frames: usize) -> [Vec<f32>; 2] {
    [1.0, -0.5].map(|step: f32| (from..from + frames).map(|k| step * (k + 1) as f32).collect())
}

fn run(alteration: &mut Alteration, mailbox: &Mailbox, input: &[Vec<f32>; 2], block: usize) -> [Vec<f32>; 2] {
    let mut out = input.clone();
    let [left, right] = &mut out;
    for (left, right) in left.chunks_mut(block).zip(right.chunks_mut(block)) {
        alteration.run(mailbox, &mut [left, right]);
    }
    out
}

#[test]
fn a_new_plan_is_faded_to_once_the_line_holds_what_it_needs() {
    let mut cases = 0;
    for block in [1, 7, 64, 511, 4_096, 20_000] {
        let (mut alteration, mailbox) = wire();
        mailbox.put(&plan([500.0, 300.0], [false, true]));
        let input = count(0, 4_000);
        let out = run(&mut alteration, &mailbox, &input, block);
        assert_eq!((&out[0][..500], &out[1][..500]), (&input[0][..500], &input[1][..500]), "block {block}");
        for (k, sample) in out[0].iter().enumerate().skip(500).take(FADE) {
            let share = 0.5 - 0.5 * (std::f64::consts::PI * (k - 499) as f64 / (FADE + 1) as f64).cos();
            let expected = (1.0 - share) * (k + 1) as f64 + share * (k - 499) as f64;
            assert!((f64::from(*sample) - expected).abs() < 1e-3, "block {block}, frame {k}");
        }
        for k in 500 + FADE..4_000 {
            assert_eq!(out[0][k], input[0][k - 500], "block {block}, frame {k}");
            assert_eq!(out[1][k], -input[1][k - 300], "block {block}, frame {k}");
        }
        cases += 1;
    }
    assert_eq!(cases, 6);
}

#[test]
fn what_an_earlier_trial_left_in_the_line_is_never_heard() {
    let (mut alteration, mailbox) = wire();
    let silence = [vec![0.0; 8_000], vec![0.0; 8_000]];
    mailbox.put(&plan([4_000.0, 4_000.0], [false; 2]));
    run(&mut alteration, &mailbox, &count(0, 8_000), 512);
    mailbox.put(&ChannelDelays::WIRE);
    // Long enough to fade, too short to overwrite the line.
    run(&mut alteration, &mailbox, &count(8_000, 1_100), 512);
    mailbox.put(&plan([4_500.0, 4_500.0], [true; 2]));
    let out = run(&mut alteration, &mailbox, &silence, 512);
    assert!(out.iter().flatten().all(|sample| *sample == 0.0));
}

#[test]
fn a_change_while_it_fades_waits_for_the_end_and_the_newest_wins() {
    let (mut alteration, mailbox) = wire();
    mailbox.put(&plan([100.0, 100.0], [false; 2]));
    run(&mut alteration, &mailbox, &count(0, 100 + FADE / 2), 10);
    assert_eq!(alteration.phase, Phase::Fading(FADE / 2));
    mailbox.put(&plan([700.0, 0.0], [true; 2]));
    mailbox.put(&plan([200.0, 50.0], [false; 2]));
    let from = 100 + FADE / 2;
    let out = run(&mut alteration, &mailbox, &count(from, FADE / 2), 10);
    assert_eq!(out[0][FADE / 2 - 1].round(), (from + FADE / 2 - 100) as f32, "the first fade ended");
    let from = from + FADE / 2;
    let out = run(&mut alteration, &mailbox, &count(from, FADE + 1), 10);
    let input = count(from, FADE + 1);
    assert_eq!([out[0][FADE], out[1][FADE]], [input[0][FADE] - 200.0, input[1][FADE] + 25.0]);
    assert_eq!(alteration.phase, Phase::Steady);
}

#[test]
fn a_change_while_the_line_fills_takes_over_and_one_back_ends_it() {
    let (mut alteration, mailbox) = wire();
    mailbox.put(&plan([4_000.0, 0.0], [false; 2]));
    run(&mut alteration, &mailbox, &count(0, 1_000), 100);
    assert_eq!(alteration.phase, Phase::Filling);
    mailbox.put(&ChannelDelays::WIRE);
    let input = count(1_000, 500);
    assert_eq!(run(&mut alteration, &mailbox, &input, 100), input);
    assert_eq!((alteration.phase, alteration.filled), (Phase::Steady, 0));
    mailbox.put(&plan([4_000.0, 0.0], [false; 2]));
    run(&mut alteration, &mailbox, &count(1_500, 1_000), 100);
    mailbox.put(&plan([800.0, 0.0], [false; 2]));
    let out = run(&mut alteration, &mailbox, &count(2_500, FADE + 1), 100);
    assert_eq!(out[0][FADE], (2_500 + FADE + 1 - 800) as f32, "the line held enough for this one already");
}

#[test]
fn a_channel_that_does_not_change_is_not_touched_by_the_fade() {
    let (mut alteration, mailbox) = wire();
    mailbox.put(&plan([0.0, 0.0], [false, true]));
    let mut input = count(0, 2_000);
    input[0][50] = f32::from_bits(0x7fc1_2345);
    input[0][51] = f32::from_bits(0x0000_0001);
    let out = run(&mut alteration, &mailbox, &input, 64);
    let bits = |c: &[f32]| c.iter().map(|s| s.to_bits()).collect::<Vec<_>>();
    assert_eq!(bits(&out[0]), bits(&input[0]));
    assert_eq!(out[1][1_999], -input[1][1_999]);
}

#[test]
fn a_restart_begins_in_the_newest_plan_with_silence_before() {
    let (mut alteration, mailbox) = wire();
    mailbox.put(&plan([300.0, 300.0], [false; 2]));
    run(&mut alteration, &mailbox, &count(0, 700), 100);
    assert!(matches!(alteration.phase, Phase::Fading(_)));
    alteration.restart();
    let input = count(0, 700);
    let out = run(&mut alteration, &mailbox, &input, 100);
    assert!(out[0][..300].iter().all(|sample| *sample == 0.0));
    assert_eq!(out[0][300..], input[0][..400]);
    // While nothing is altered a restart changes nothing.
    let (mut alteration, mailbox) = wire();
    alteration.restart();
    assert_eq!(run(&mut alteration, &mailbox, &input, 100), input);
}

#[test]
fn what_is_no_number_passes_and_leaves_nothing_behind() {
    let mut cases = 0;
    for bad in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY] {
        let mailbox = Mailbox::new();
        mailbox.put(&plan([100.5, 100.0], [false, true]));
        let mut alteration = Alteration::new(&format(48_000), &mailbox);
        let mut input = count(0, 2_000);
        input[0][500] = bad;
        input[1][500] = bad;
        let out = run(&mut alteration, &mailbox, &input, 128);
        let touched = |c: usize| out[c].iter().filter(|sample| !sample.is_finite()).count();
        assert_eq!((touched(0), touched(1)), (fractional_delay::TAPS, 1), "{bad}");
        let first = out[0].iter().position(|sample| !sample.is_finite()).unwrap();
        assert_eq!(first, 500 + 100 - (REACH - 1), "{bad}");
        cases += 1;
    }
    assert_eq!(cases, 3);
}

#[test]
fn slices_that_do_not_fit_do_no_harm() {
    let (mut alteration, mailbox) = wire();
    mailbox.put(&plan([0.0, 0.0], [true; 2]));
    let mut long = vec![1.0; 2_000];
    let (mut short, mut third) = (vec![1.0; 1_500], vec![1.0; 2_000]);
    alteration.run(&mailbox, &mut []);
    alteration.run(&mailbox, &mut [&mut long, &mut short, &mut third]);
    assert_eq!((long[1_499], short[1_499]), (-1.0, -1.0));
    assert!(long[1_500..].iter().chain(&third).all(|sample| *sample == 1.0), "what is beyond passes");
    alteration.run(&mailbox, &mut [&mut third]);
    assert!(third.iter().all(|sample| *sample == -1.0), "the left channel alone");
}

#[test]
fn the_line_is_long_enough_for_any_trial_at_any_rate() {
    let mut cases = 0;
    for rate_hz in [22_050, 44_100, 48_000, 96_000, 192_000, 384_000] {
        let format = format(rate_hz);
        let frame = 1.0 / f64::from(rate_hz);
        let trial = Trial { delay_secs: [0.1, 0.1 - 0.4 * frame], ..Trial::default() };
        let mailbox = Mailbox::new();
        mailbox.put(&ChannelDelays::of(Some(trial), &format));
        let mut alteration = Alteration::new(&format, &mailbox);
        let mut out = run(&mut alteration, &mailbox, &count(0, 40_000), 4_096);
        assert!(alteration.now.lookback() <= alteration.longest);
        let heard = out[0].iter().position(|sample| *sample != 0.0).unwrap();
        assert_eq!(heard, rate_hz as usize / 10, "{rate_hz} Hz");
        assert!(out[1].drain(..heard - REACH).all(|sample| sample == 0.0));
        cases += 1;
    }
    assert_eq!(cases, 6);
}

/// Minor page faults of this thread so far: the tenth field of `stat`, proc(5).
#[cfg(target_os = "linux")]
fn page_faults() -> u64 {
    let stat = std::fs::read_to_string("/proc/thread-self/stat").unwrap();
    let after_name = stat.rsplit_once(") ").unwrap().1;
    after_name.split(' ').nth(7).unwrap().parse().unwrap()
}

#[test]
#[cfg(target_os = "linux")]
fn the_first_second_of_a_trial_touches_no_page_for_the_first_time() {
    let format = format(384_000);
    let delayed = Trial { delay_secs: [LONGEST_TRIAL_SECS; 2], flip: [true, false], in_renders: false };
    let mut block = [vec![0.5_f32; 512], vec![-0.5; 512]];
    let mut faults = Vec::new();
    // The first run touches the code itself. All are kept, so that none gets the memory of another.
    let mut kept = Vec::new();
    for _ in 0..3 {
        let mailbox = Mailbox::new();
        let mut alteration = Alteration::new(&format, &mailbox);
        mailbox.put(&ChannelDelays::of(Some(delayed), &format));
        page_faults();
        let before = page_faults();
        for _ in 0..384_000 / 512 {
            let [left, right] = &mut block;
            alteration.run(&mailbox, &mut [left, right]);
        }
        faults.push(page_faults() - before);
        assert!(alteration.tail_frames() >= 38_400, "the whole line was used");
        kept.push(alteration);
    }
    assert_eq!(faults[1..], [0, 0]);
}
