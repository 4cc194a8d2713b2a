//! One file: every sample of every channel arrives, and so does the metadata that recorders write.

use crate::build::{
    Coding, FLOAT, Folder, PCM_16, PCM_24, aiff, bext, chunk, flac, fmt, ixml, patterns, rf64, riff, samples,
    wav,
};
use plumbline_audio::{CHANNELS_MOST, ReadError, Reader};
use std::path::Path;

/// One list of samples per channel.
pub(crate) type Sides = Vec<Vec<f32>>;

/// Reads a file to its end in blocks of `block` frames.
pub(crate) fn read_all(path: &Path, block: usize) -> Result<Sides, (Sides, ReadError)> {
    let mut reader = Reader::open(path).map_err(|error| (Vec::new(), error))?;
    let mut room = vec![vec![0.0; block]; reader.channels()];
    let mut out = vec![Vec::new(); reader.channels()];
    loop {
        match reader.read(&mut room) {
            Ok(0) => return Ok(out),
            Ok(count) => out.iter_mut().zip(&room).for_each(|(out, room)| out.extend(&room[..count])),
            Err(error) => return Err((out, error)),
        }
    }
}

#[test]
fn every_sample_of_every_coding_and_channel_arrives() {
    // Codings of the fmt chunk: Multimedia Programming Interface and Data Specifications 1.0 (PCM), Multiple Channel
    // Audio Data and WAVE Files (extensible, float).
    let folder = Folder::new();
    let codings =
        [(1, 16), (1, 24), (1, 32), (3, 32), (3, 64), (0xFFFE, 16), (0xFFFE, 24), (0xFFFE, 32), (0xFFFE, 64)];
    let mut cases = 0;
    for (tag, bits) in codings {
        for channels in [1, 2, 3, 8, 17, CHANNELS_MOST] {
            for long in [None, Some(b"RF64"), Some(b"BW64")] {
                let (coding, sides) = (Coding { tag, bits }, patterns(channels, 1_501));
                let bytes = match long {
                    None => wav(coding, 48_000, &sides, &[], &[]),
                    Some(magic) => rf64(magic, coding, 48_000, &sides, &[]),
                };
                let path = folder.file("whole.wav", &bytes);
                let name = format!("tag {tag:#x}, {bits} bits, {channels} channels, {long:?}");
                let reader = Reader::open(&path).unwrap_or_else(|error| panic!("{name}: {error}"));
                assert_eq!((reader.frames(), reader.channels()), (Some(1_501), channels), "{name}");
                assert!(read_all(&path, 333).expect("read") == sides, "{name}");
                cases += 1;
            }
        }
    }
    assert_eq!(cases, 162);
}

#[test]
fn every_rate_of_every_coding_is_read() {
    let folder = Folder::new();
    let codings = [(1, 8), (1, 16), (1, 24), (1, 32), (3, 32), (3, 64), (0xFFFE, 16), (0xFFFE, 24)];
    let mut cases = 0;
    for channels in [1, 2] {
        for (tag, bits) in codings {
            let mut sides = patterns(channels, 5_000);
            if bits == 8 {
                // Eight bits keep the upper byte.
                let upper = |sample: &mut f32| *sample = (*sample * 128.0).floor() / 128.0;
                sides.iter_mut().flatten().for_each(upper);
            }
            for rate in [22_050, 44_100, 48_000, 96_000, 384_000] {
                let path = folder.file("rate.wav", &wav(Coding { tag, bits }, rate, &sides, &[], &[]));
                let name = format!("tag {tag:#x}, {bits} bits, {channels} channels, {rate} Hz");
                let reader = Reader::open(&path).unwrap_or_else(|error| panic!("{name}: {error}"));
                assert_eq!((reader.rate_hz(), reader.channels()), (rate, channels), "{name}");
                assert_eq!(reader.frames(), Some(5_000), "{name}");
                assert!(read_all(&path, 700).expect("read") == sides, "{name}");
                cases += 1;
            }
        }
    }
    assert_eq!(cases, 80);
}

#[test]
fn the_size_of_the_block_changes_nothing() {
    let folder = Folder::new();
    let path = folder.file("blocks.flac", &flac(&patterns(2, 5_300)));
    let whole = read_all(&path, 1 << 16).expect("read");
    let mut cases = 0;
    for block in [1, 7, 64, 499, 500, 501, 5_300] {
        assert_eq!(read_all(&path, block).expect("read"), whole, "block {block}");
        cases += 1;
    }
    assert_eq!(cases, 7);
    let mut reader = Reader::open(&path).expect("opened");
    assert_eq!(reader.read(&mut []).expect("no lists, no frames"), 0);
    assert_eq!(reader.read(&mut [vec![], vec![]]).expect("no room, no frames"), 0);
}

#[test]
fn samples_that_are_not_finite_are_handed_out_as_they_are() {
    let folder = Folder::new();
    let mut sides = patterns(2, 5_000);
    (sides[0][0], sides[1][0]) = (f32::NAN, f32::INFINITY);
    let read = read_all(&folder.file("nan.wav", &wav(FLOAT, 48_000, &sides, &[], &[])), 512).expect("read");
    assert!(read[0][0].is_nan() && read[1][0] == f32::INFINITY);
    assert!(read[0][1..] == sides[0][1..] && read[1][1..] == sides[1][1..]);
}

#[test]
fn channels_of_other_formats_arrive_in_their_order() {
    let folder = Folder::new();
    let mut cases = 0;
    for channels in 1..=8 {
        let sides = patterns(channels, 1_234);
        for (name, rate, bytes) in [
            ("a.flac", 48_000, flac(&sides)),
            ("a.aiff", 48_000, aiff(48_000, &sides)),
            ("b.aiff", 44_100, aiff(44_100, &sides)),
        ] {
            let path = folder.file(name, &bytes);
            let reader = Reader::open(&path).unwrap_or_else(|error| panic!("{error}"));
            assert_eq!(reader.rate_hz(), rate, "{name}");
            assert_eq!((reader.channels(), reader.frames()), (channels, Some(1_234)), "{name}");
            assert_eq!((reader.time_reference(), reader.channel_names().len()), (None, 0), "{name}");
            assert!(read_all(&path, 333).expect("read") == sides, "{name}, {channels} channels");
            cases += 1;
        }
    }
    assert_eq!(cases, 24);
}

#[test]
fn a_packet_that_is_missing_is_not_stepped_over() {
    // One broken checksum: the decoder would continue with the next packet, one packet too early.
    let folder = Folder::new();
    let sides = patterns(2, 3_000);
    let mut bytes = flac(&sides);
    let third = bytes.len() / 2;
    bytes[third] ^= 0x55;
    let path = folder.file("hole.flac", &bytes);
    let (read, error) = read_all(&path, 333).map(drop).expect_err("damaged");
    crate::refusals::helpful(&path, &error);
    // The frames before it are fine; sound after it would be measured at the wrong time.
    assert!(matches!(error, ReadError::Damaged { at, .. } if at == read[0].len() as u64), "{error}");
    assert!(!read[0].is_empty() && read[0].len() % 500 == 0 && read[0] == sides[0][..read[0].len()]);
    // The same for a page of Ogg (RFC 3533: each has a checksum).
    let whole = include_bytes!("sines.ogg");
    let pages: Vec<_> =
        whole.windows(4).enumerate().filter(|(_, four)| four == b"OggS").map(|(at, _)| at).collect();
    assert_eq!(pages.len(), 4, "two of headers, two of sound");
    for (page, frames) in [(2, 0), (3, 48_704)] {
        let mut bytes = whole.to_vec();
        bytes[pages[page] + 200] ^= 0x55;
        let path = folder.file("hole.ogg", &bytes);
        let Err((read, error)) = read_all(&path, 333) else { panic!("page {page} was not missed") };
        assert_eq!(read.first().map_or(0, Vec::len), frames, "page {page}: {error}");
        crate::refusals::helpful(&path, &error);
    }
}

#[test]
fn a_flac_that_does_not_tell_its_length_is_read_to_its_end() {
    // RFC 9639, section 8.2: a total of 0 means that it is unknown.
    let folder = Folder::new();
    let sides = patterns(2, 1_700);
    let mut bytes = flac(&sides);
    bytes[21] &= 0xF0;
    bytes[22..26].fill(0);
    let path = folder.file("stream.flac", &bytes);
    assert_eq!(Reader::open(&path).expect("opened").frames(), None);
    assert!(read_all(&path, 333).expect("read") == sides);
}

#[test]
fn integers_of_24_and_32_bits_keep_what_a_float_can_hold() {
    let folder = Folder::new();
    let steps = [i32::MIN, i32::MIN + 256, -256, 0, 256, 65_536, i32::MAX - 255];
    let sides =
        vec![steps.iter().map(|step| (f64::from(*step) / 2_147_483_648.0) as f32).collect::<Vec<_>>()];
    for coding in [PCM_24, Coding { bits: 32, ..PCM_24 }] {
        let data: Vec<u8> = steps
            .iter()
            .flat_map(|step| step.to_le_bytes()[4 - usize::from(coding.bits / 8)..].to_vec())
            .collect();
        let path = folder.file("steps.wav", &riff(&[fmt(coding, 1, 48_000), chunk(b"data", &data)]));
        assert_eq!(read_all(&path, 64).expect("read"), sides, "{coding:?}");
    }
}

#[test]
fn sizes_that_were_never_filled_in_mean_to_the_end_of_the_file() {
    let folder = Folder::new();
    let sides = patterns(2, 900);
    let data = samples(PCM_16, &sides);
    let mut cases = 0;
    // RIFF: all bits set; nothing; and an empty file's sizes, as written before the first sample.
    for (riff_size, data_size) in [(u32::MAX, u32::MAX), (0, 0), (36, 0), (u32::MAX - 1, u32::MAX)] {
        let mut bytes = riff(&[fmt(PCM_16, 2, 48_000), chunk(b"data", &data)]);
        bytes[4..8].copy_from_slice(&riff_size.to_le_bytes());
        bytes[40..44].copy_from_slice(&data_size.to_le_bytes());
        let path = folder.file("open.wav", &bytes);
        assert_eq!(Reader::open(&path).expect("opened").frames(), None, "{riff_size} {data_size}");
        assert!(read_all(&path, 512).expect("read") == sides, "{riff_size} {data_size}");
        cases += 1;
    }
    // RF64 whose own sizes are empty (EBU Tech 3306 fills them in at the end).
    for size in [0, u64::MAX] {
        let mut bytes = rf64(b"RF64", PCM_16, 48_000, &sides, &[]);
        bytes[28..36].copy_from_slice(&size.to_le_bytes());
        let path = folder.file("open.wav", &bytes);
        assert_eq!(Reader::open(&path).expect("opened").frames(), None, "{size}");
        assert!(read_all(&path, 512).expect("read") == sides, "{size}");
        cases += 1;
    }
    assert_eq!(cases, 6);
}

#[test]
fn a_64_bit_file_may_tell_its_samples_in_32_bits() {
    // EBU Tech 3306 and ITU-R BS.2088: `ds64` applies only where all bits of a size are set.
    let folder = Folder::new();
    let sides = patterns(1, 700);
    let mut bytes = rf64(b"BW64", PCM_16, 48_000, &sides, &[]);
    let data = bytes.windows(4).position(|four| four == b"data").expect("a data chunk");
    bytes[data + 4..data + 8].copy_from_slice(&1_400_u32.to_le_bytes());
    bytes[28..36].copy_from_slice(&77_u64.to_le_bytes());
    let path = folder.file("short.wav", &bytes);
    assert!(read_all(&path, 512).expect("read") == sides);
}

#[test]
fn a_chunk_of_5_gb_before_the_samples_is_stepped_over() {
    // Its size is in the table of `ds64`. The file is sparse: it takes no space on the disk.
    let folder = Folder::new();
    let (sides, long) = (patterns(2, 800), 5_u64 << 30);
    let data = samples(FLOAT, &sides);
    let head = |chunk_size: u64| {
        let mut head = b"RF64\xFF\xFF\xFF\xFFWAVE".to_vec();
        head.extend(crate::build::ds64(long + 200, data.len() as u64, 800, &[(*b"axml", chunk_size)]));
        head.extend(fmt(FLOAT, 2, 48_000));
        head.extend(b"axml\xFF\xFF\xFF\xFF");
        head
    };
    let path = folder.file("long.wav", &head(long));
    let mut file = std::fs::OpenOptions::new().write(true).open(&path).expect("opened");
    std::io::Seek::seek(&mut file, std::io::SeekFrom::Start(head(long).len() as u64 + long)).expect("sought");
    std::io::Write::write_all(&mut file, &chunk(b"data", &data)).expect("written");
    drop(file);
    assert!(std::fs::metadata(&path).expect("there").len() > 5 << 30);
    assert!(read_all(&path, 512).expect("read") == sides);
}

#[test]
fn the_time_reference_is_read_before_and_behind_the_samples() {
    // EBU Tech 3285, clause 2.3: samples since midnight, 64 bits, low word first.
    let folder = Folder::new();
    let sides = patterns(1, 601);
    let mut cases = 0;
    for reference in [0, 1, 172_800_000, u64::from(u32::MAX) + 5, u64::MAX] {
        for bytes in [
            wav(PCM_24, 48_000, &sides, &[bext(reference)], &[]),
            // An odd number of bytes of samples, and a pad byte before the chunk.
            wav(PCM_24, 48_000, &sides, &[], &[bext(reference)]),
            rf64(b"RF64", PCM_16, 48_000, &sides, &[bext(reference)]),
        ] {
            let reader = Reader::open(folder.file("clock.wav", &bytes)).expect("opened");
            assert_eq!(reader.time_reference(), Some(reference));
            cases += 1;
        }
    }
    assert_eq!(cases, 15);
    for before in [vec![], vec![chunk(b"bext", &[7; 345])]] {
        let path = folder.file("none.wav", &wav(PCM_16, 48_000, &sides, &before, &[]));
        assert_eq!(Reader::open(path).expect("opened").time_reference(), None);
    }
}

#[test]
fn names_of_tracks_go_to_their_place_in_the_file() {
    let folder = Folder::new();
    let sides = patterns(4, 600);
    let named = |chunk: Vec<u8>| {
        let path = folder.file("named.wav", &wav(PCM_16, 48_000, &sides, &[], &[chunk]));
        Reader::open(path).expect("opened").channel_names().to_vec()
    };
    let out_of_order = ixml(&[(3, "Boom"), (1, "Mix L"), (4, " Lav &amp; scarf ")]);
    assert_eq!(named(out_of_order), ["Mix L", "", "Boom", "Lav & scarf"]);
    // Positions that do not exist in the file, and a chunk padded with zeros.
    let mut filled = ixml(&[(0, "nowhere"), (9, "nowhere"), (2, "Belfry")])[8..].to_vec();
    filled.extend([0; 300]);
    assert_eq!(named(chunk(b"iXML", &filled)), ["", "Belfry", "", ""]);
    // A mixer's index only (iXML: INTERLEAVE_INDEX is the position in the file, CHANNEL_INDEX the recorder's own
    // number).
    let text = b"<BWFXML><TRACK_LIST><TRACK><CHANNEL_INDEX>2</CHANNEL_INDEX><NAME>Ram\np</NAME></TRACK></TRACK_LIST></BWFXML>";
    assert_eq!(named(chunk(b"iXML", text)), ["", "Ram p", "", ""]);
    let long = "x".repeat(5_000);
    assert_eq!(named(ixml(&[(1, &long)]))[0].len(), 64);
    let none: [&str; 0] = [];
    for broken in
        [&b"<BWFXML><TRACK"[..], b"", b"\xFF\xFE\x00", b"<!DOCTYPE a [<!ENTITY b \"c\">]><a>&b;</a>"]
    {
        assert_eq!(named(chunk(b"iXML", broken)), none, "{broken:?}");
    }
    let deep = "<a>".repeat(80_000);
    assert_eq!(named(chunk(b"iXML", deep.as_bytes())), none);
}

#[test]
fn a_vorbis_file_is_read_in_full_and_in_its_place() {
    // Two seconds at 48 kHz, written with libvorbis 1.3.7 at quality 2 from a sine of 440 Hz at -6.02 dBFS left and one
    // of 1 000 Hz at -12.04 dBFS right, both starting at phase 0.
    let folder = Folder::new();
    let path = folder.file("sines.ogg", include_bytes!("sines.ogg"));
    let reader = Reader::open(&path).expect("opened");
    assert_eq!((reader.rate_hz(), reader.channels(), reader.frames()), (48_000, 2, Some(96_000)));
    let sides = read_all(&path, 999).expect("read");
    for (side, (hz, peak)) in sides.iter().zip([(440.0_f64, 0.5), (1_000.0, 0.25)]) {
        assert_eq!(side.len(), 96_000);
        // Away from the ends, where a lossy coding starts and stops: 110 and 250 full periods.
        let (mut sine, mut cosine) = (0.0, 0.0);
        for (n, sample) in side.iter().enumerate().skip(4_000).take(12_000) {
            let (s, c) = (std::f64::consts::TAU * hz * n as f64 / 48_000.0).sin_cos();
            sine += f64::from(*sample) * s / 6_000.0;
            cosine += f64::from(*sample) * c / 6_000.0;
        }
        let level_db = 20.0 * (sine.hypot(cosine) / peak).log10();
        let late_samples = -cosine.atan2(sine) / (std::f64::consts::TAU * hz / 48_000.0);
        assert!(level_db.abs() < 0.1, "{hz} Hz: {level_db} dB");
        assert!(late_samples.abs() < 0.1, "{hz} Hz: {late_samples} samples");
    }
}
