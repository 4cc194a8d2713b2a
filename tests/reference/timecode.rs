//! Timecode: SMPTE ST 12-1:2014, high rates ST 12-3.

use plumbline_measure::{FrameRate, SampleRate, Timecode};
use plumbline_tests::cases::Cases;

fn at(rate: FrameRate, text: &str) -> Timecode {
    Timecode::parse(rate, text).expect("a label that exists")
}

fn rate(hz: u32) -> SampleRate {
    SampleRate::new(hz).expect("a rate that can be measured")
}

#[test]
fn drop_frame_labels_stand_for_the_published_frames() {
    let mut cases = Cases::new("ST 12-1:2014, 29.97 drop-frame: label, frame, real time");
    for (label, frame, secs) in [
        ("00:00:00;00", 0, 0.0),
        ("00:00:59;29", 1_799, 60.026_633),
        ("00:01:00;02", 1_800, 60.060_000),
        ("00:09:59;29", 17_981, 599.966_033),
        ("00:10:00;00", 17_982, 599.999_400),
        ("00:11:00;02", 19_782, 660.059_400),
        ("01:00:00;00", 107_892, 3_599.996_400),
        ("10:00:00;00", 1_078_920, 35_999.964_000),
        ("23:59:59;29", 2_589_407, 86_399.880_233),
    ] {
        let drop = FrameRate::F29_97Drop;
        cases.holds(format!("{label} is frame {frame}"), at(drop, label).frame() == frame);
        let back = Timecode::from_frame(drop, frame).to_string();
        cases.holds(format!("frame {frame} reads {back}, not {label}"), back == label);
        // The first sample of the frame at 48 kHz: at most one sample after its exact start.
        let start = drop.sample_at(frame, rate(48_000)) as f64 / 48_000.0;
        cases.within(format!("{label} starts at"), start, secs - 1e-6, secs + 1e-6 + 1.0 / 48_000.0);
    }
    cases.holds("24 h are 2 589 408 frames", FrameRate::F29_97Drop.frames_per_day() == 2_589_408);
    let day = FrameRate::F29_97Drop.sample_at(2_589_408, rate(48_000)) as f64 / 48_000.0;
    cases.within("24 h last", day, 86_399.913_6 - 1e-6, 86_399.913_6 + 1e-6 + 1.0 / 48_000.0);
    let after =
        Timecode::from_frame(FrameRate::F29_97Drop, at(FrameRate::F29_97Drop, "01:04:59;29").frame() + 1);
    cases.holds(format!("01:04:59;29 is followed by {after}"), after.to_string() == "01:05:00;02");
    let past = Timecode::from_frame(FrameRate::F29_97Drop, 2_589_408);
    cases.holds(format!("after 24 h comes {past}"), past.to_string() == "00:00:00;00");
    cases.end(31);
}

#[test]
fn drop_frame_counts_as_the_rule_says() {
    let mut cases = Cases::new("ST 12-1:2014 drop-frame rule; 59.94 with four (ST 12-3, from memory)");
    for (rate, dropped, minute, ten, hour, day) in [
        (FrameRate::F29_97Drop, 2, 1_800, 17_982, 107_892, 2_589_408),
        (FrameRate::F59_94Drop, 4, 3_600, 35_964, 215_784, 5_178_816),
    ] {
        let name = rate.name();
        let first = format!("00:01:00;{dropped:02}");
        cases.holds(format!("{name}: {first} is frame {minute}"), at(rate, &first).frame() == minute);
        cases.holds(format!("{name}: ten minutes"), at(rate, "00:10:00;00").frame() == ten);
        cases.holds(format!("{name}: one hour"), at(rate, "01:00:00;00").frame() == hour);
        cases.holds(format!("{name}: a day"), rate.frames_per_day() == day);
        let mut skipped = 0;
        for m in 0..60 {
            for f in 0..rate.counted() {
                let exists = Timecode::from_fields(rate, [0, m, 0, f]).is_ok();
                skipped += i64::from(!exists);
                let rule = m % 10 == 0 || f >= dropped;
                cases.holds(format!("{name}: label 00:{m:02}:00;{f:02} exists: {rule}"), exists == rule);
            }
        }
        cases.holds(format!("{name}: {skipped} labels skipped in an hour"), skipped == 54 * dropped);
    }
    cases.holds("108 labels per hour at 29.97", 54 * FrameRate::F29_97Drop.dropped() == 108);
    for rate in FrameRate::ALL {
        let drops = matches!(rate, FrameRate::F29_97Drop | FrameRate::F59_94Drop);
        cases.holds(format!("{} drops: {drops}", rate.name()), (rate.dropped() > 0) == drops);
    }
    cases.end(2 * 5 + 60 * 30 + 60 * 60 + 1 + 10);
}

/// Two hours of labels, frame by frame, against the published formula and back.
#[test]
fn labels_and_frames_are_inverse_for_two_hours() {
    let mut cases =
        Cases::new("F = (3600h+60m+s)·n + f − d·(M − ⌊M/10⌋), round trip over two hours of labels");
    for rate in FrameRate::ALL {
        let (counted, dropped) = (rate.counted(), rate.dropped());
        let (mut labels, mut wrong) = (0, 0);
        for second in 0..7_200_i64 {
            let [h, m, s] = [second / 3_600, second / 60 % 60, second % 60];
            let minutes = 60 * h + m;
            for f in 0..counted {
                if s == 0 && m % 10 != 0 && f < dropped {
                    continue;
                }
                let frame = second * counted + f - dropped * (minutes - minutes / 10);
                let label = Timecode::from_fields(rate, [h, m, s, f]).map(Timecode::frame);
                wrong += i64::from(label != Ok(frame));
                wrong += i64::from(Timecode::from_frame(rate, frame).fields() != [h, m, s, f]);
                wrong += i64::from(labels != frame);
                labels += 1;
            }
        }
        let expected = 7_200 * counted - dropped * 108;
        cases.holds(format!("{}: {labels} labels", rate.name()), labels == expected);
        cases.holds(format!("{}: {wrong} wrong", rate.name()), wrong == 0);
    }
    cases.end(20);
}

#[test]
fn every_rate_has_its_published_length() {
    let mut cases =
        Cases::new("ST 12-1:2014 and ST 12-3: frames and seconds in an hour of label, samples per frame");
    type Row = (FrameRate, i64, f64, [f64; 3], f64);
    let rows: [Row; 8] = [
        (FrameRate::F23_976, 86_400, 3_603.6, [2_002.0, 1_839.337_5, 4_004.0], 1_918.08),
        (FrameRate::F24, 86_400, 3_600.0, [2_000.0, 1_837.5, 4_000.0], 1_920.0),
        (FrameRate::F25, 90_000, 3_600.0, [1_920.0, 1_764.0, 3_840.0], 2_000.0),
        (FrameRate::F29_97, 108_000, 3_603.6, [1_601.6, 1_471.47, 3_203.2], 2_397.60),
        (FrameRate::F30, 108_000, 3_600.0, [1_600.0, 1_470.0, 3_200.0], 2_400.0),
        (FrameRate::F50, 180_000, 3_600.0, [960.0, 882.0, 1_920.0], 4_000.0),
        (FrameRate::F59_94, 216_000, 3_603.6, [800.8, 735.735, 1_601.6], 4_795.20),
        (FrameRate::F60, 216_000, 3_600.0, [800.0, 735.0, 1_600.0], 4_800.0),
    ];
    for (frame_rate, frames, secs, samples, bits) in rows {
        let name = frame_rate.name();
        cases.holds(format!("{name}: frames in an hour"), at(frame_rate, "01:00:00:00").frame() == frames);
        for (hz, per_frame) in [48_000, 44_100, 96_000].into_iter().zip(samples) {
            // Ten thousand frames are a whole number of samples at each of these rates.
            let got = frame_rate.sample_at(10_000, rate(hz)) as f64 / 10_000.0;
            cases.near(format!("{name}: samples per frame at {hz}"), got, per_frame, 1e-9);
            let hour = frame_rate.sample_at(frames, rate(hz)) as f64 / f64::from(hz);
            cases.within(format!("{name}: an hour at {hz}"), hour, secs - 1e-9, secs + 1.0 / f64::from(hz));
        }
        let (n, d) = frame_rate.fraction();
        cases.near(format!("{name}: 80 bits a frame"), 80.0 * f64::from(n) / f64::from(d), bits, 0.005);
    }
    cases.holds("29.97: 8008 samples in 5 frames", FrameRate::F29_97.sample_at(5, rate(48_000)) == 8_008);
    cases.holds("59.94: 4004 samples in 5 frames", FrameRate::F59_94.sample_at(5, rate(48_000)) == 4_004);
    cases.end(8 * 8 + 2);
}

#[test]
fn a_sample_lies_in_the_frame_that_began_last() {
    let mut cases =
        Cases::new("frame boundaries: the first sample of a frame, the one before, and far positions");
    for frame_rate in FrameRate::ALL {
        for hz in [22_050, 44_100, 47_952, 48_000, 96_000, 384_000] {
            let mut wrong = 0;
            for frame in
                [-2_589_409, -1_801, -1, 0, 1, 2, 1_799, 1_800, 17_982, 107_892, 2_589_408, 90_000_000]
            {
                let first = frame_rate.sample_at(frame, rate(hz));
                wrong += i32::from(frame_rate.frame_at(first, rate(hz)) != frame);
                wrong += i32::from(frame_rate.frame_at(first - 1, rate(hz)) != frame - 1);
            }
            cases.holds(format!("{} at {hz}: {wrong} wrong", frame_rate.name()), wrong == 0);
        }
        for sample in [i64::MIN, i64::MAX] {
            let label = Timecode::at(Timecode::zero(frame_rate), sample, rate(48_000));
            let inside = (0..frame_rate.frames_per_day()).contains(&label.frame());
            cases.holds(format!("{} at {sample}: {label}", frame_rate.name()), inside);
        }
    }
    cases.end(10 * 8);
}

#[test]
fn labels_count_from_their_start() {
    let mut cases = Cases::new("start offset 09:59:50:00");
    for frame_rate in FrameRate::ALL {
        let start = at(frame_rate, "09:59:50:00");
        let label = |sample: i64| Timecode::at(start, sample, rate(48_000)).to_string();
        let mark = if frame_rate.dropped() > 0 { ';' } else { ':' };
        let name = frame_rate.name();
        cases.holds(format!("{name}: sample 0 reads {}", label(0)), label(0) == format!("09:59:50{mark}00"));
        // No labels are skipped before a tenth minute, so ten seconds of timecode are 10·counted frames.
        let tenth_hour = frame_rate.sample_at(10 * frame_rate.counted(), rate(48_000));
        let got = label(tenth_hour);
        cases.holds(format!("{name}: ten seconds later {got}"), got == format!("10:00:00{mark}00"));
        let last = format!("09:59:59{mark}{:02}", frame_rate.counted() - 1);
        let got = label(tenth_hour - 1);
        cases.holds(format!("{name}: one sample before {got}"), got == last);
        let before = format!("09:59:49{mark}{:02}", frame_rate.counted() - 1);
        let got = label(-1);
        cases.holds(format!("{name}: in the pre-roll {got}"), got == before);
    }
    cases.end(40);
}

#[test]
fn what_lies_before_zero_is_labelled_with_a_minus() {
    let mut cases = Cases::new("labels before 00:00:00:00");
    for frame_rate in FrameRate::ALL {
        let name = frame_rate.name();
        let mark = if frame_rate.dropped() > 0 { ';' } else { ':' };
        let zero = Timecode::zero(frame_rate);
        let label = |start: Timecode, frame: i64| {
            Timecode::label_at(start, frame_rate.sample_at(frame, rate(48_000)), rate(48_000))
        };
        let mut reads = |got: String, expected: String| {
            cases.holds(format!("{name}: {got} for {expected}"), got == expected);
        };
        reads(label(zero, 0), format!("00:00:00{mark}00"));
        reads(label(zero, -3), format!("−00:00:00{mark}03"));
        reads(label(zero, -frame_rate.counted()), format!("−00:00:01{mark}00"));
        // One sample before zero is in the last frame before it.
        reads(Timecode::label_at(zero, -1, rate(48_000)), format!("−00:00:00{mark}01"));
        // If the song starts later, there is time before it; at 24 hours the label wraps as usual.
        let start = at(frame_rate, "10:00:00:00");
        reads(label(start, -1), format!("09:59:59{mark}{:02}", frame_rate.counted() - 1));
        reads(label(zero, frame_rate.frames_per_day() + 2), format!("00:00:00{mark}02"));
        let far = [i64::MIN, i64::MAX].map(|sample| Timecode::label_at(zero, sample, rate(48_000)));
        cases.holds(format!("{name}: {far:?}"), far[0].starts_with('−') && !far[1].starts_with('−'));
    }
    cases.end(70);
}
