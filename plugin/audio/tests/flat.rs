//! Files of any length are read in the same memory, 64-bit ones to their last sample. The test is alone in its process,
//! since it watches the memory of the process. The files are sparse, and take no space on the disk.
#![cfg(target_os = "linux")]
#![expect(clippy::cast_possible_truncation, reason = "the sizes of test files are small")]

#[path = "input/build.rs"]
#[expect(dead_code, reason = "another suite uses the rest")]
mod build;

use build::{Coding, Folder, PCM_16, chunk, ds64, fmt, riff};
use plumbline_audio::{Options, StemFile, Stems};
use std::io::{Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

/// Peak memory of this process so far, in KiB (Linux, proc(5), `VmHWM`).
fn peak_kib() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").expect("Linux");
    let line = status.lines().find(|line| line.starts_with("VmHWM:")).expect("a peak");
    line.split_whitespace().nth(1).and_then(|number| number.parse().ok()).expect("a number")
}

/// A file of silence with one frame of `last` bytes at its end.
fn sparse(folder: &Folder, name: &str, head: &[u8], length: u64, last: &[u8]) -> PathBuf {
    let path = folder.file(name, head);
    let mut file = std::fs::OpenOptions::new().write(true).open(&path).expect("opened");
    file.set_len(head.len() as u64 + length).expect("sparse");
    file.seek(SeekFrom::End(-(last.len() as i64))).expect("sought");
    file.write_all(last).expect("written");
    path
}

/// Minutes of 16-bit silence in stereo.
fn minutes(folder: &Folder, name: &str, rate: u32, minutes: u32) -> PathBuf {
    let bytes = rate * 60 * minutes * 4;
    let mut head = riff(&[fmt(PCM_16, 2, rate), chunk(b"data", &[])]);
    head[4..8].copy_from_slice(&(36 + bytes).to_le_bytes());
    head[40..44].copy_from_slice(&bytes.to_le_bytes());
    sparse(folder, name, &head, u64::from(bytes), &[1; 4])
}

/// Reads stems of one file to the end. Returns the number of frames, and the last sample of each channel.
fn read(path: &Path, channels: &[usize], resample_hz: Option<u32>) -> (u64, Vec<f32>) {
    let stem = StemFile { path: path.to_owned(), channels: Some(channels.to_vec()) };
    let mut stems = Stems::open(&[stem], &Options { resample_hz }).expect("opened");
    let mut block = vec![vec![vec![0.0; 4_800]; channels.len()]];
    let (mut frames, mut last) = (0, vec![0.0; channels.len()]);
    loop {
        match stems.read(&mut block).expect("read") {
            0 => return (frames, last),
            count => {
                frames += count as u64;
                last = block[0].iter().map(|side| side[count - 1]).collect();
            }
        }
    }
}

/// 64 channels of 64-bit float (EBU Tech 3306), with a different value in each channel of the last frame.
fn many(folder: &Folder, name: &str, frames: u64) -> PathBuf {
    let mut head = b"RF64\xFF\xFF\xFF\xFFWAVE".to_vec();
    head.extend(ds64(frames * 512 + 72, frames * 512, frames, &[]));
    head.extend(fmt(Coding { tag: 3, bits: 64 }, 64, 48_000));
    head.extend(b"data\xFF\xFF\xFF\xFF");
    let last: Vec<u8> = (0..64_u8).flat_map(|channel| (f64::from(channel) / 64.0).to_le_bytes()).collect();
    sparse(folder, name, &head, frames * 512, &last)
}

#[test]
fn memory_is_flat_and_no_size_ends_at_4_gb() {
    let folder = Folder::new();
    let short = minutes(&folder, "short.wav", 44_100, 10);
    assert_eq!(read(&short, &[0, 1], Some(48_000)).0, 48_000 * 600);
    assert_eq!(read(&many(&folder, "many.wav", 20_000), &[63, 2], None).0, 20_000);
    let short_kib = peak_kib();

    let long = minutes(&folder, "long.wav", 44_100, 40);
    assert_eq!(read(&long, &[0, 1], Some(48_000)).0, 48_000 * 2_400);
    let (frames, last) = read(&long, &[1], None);
    assert_eq!((frames, last), (44_100 * 2_400, vec![257.0 / 32_768.0]));
    let frames = (1_u64 << 32) / 512 + 10;
    let (read, last) = read(&many(&folder, "over.wav", frames), &[63, 2], None);
    assert_eq!((read, last), (frames, vec![63.0 / 64.0, 2.0 / 64.0]));
    let long_kib = peak_kib();
    println!("{short_kib} KiB, {long_kib} KiB");
    assert!(
        long_kib <= short_kib + short_kib / 20,
        "{short_kib} KiB in short files, {long_kib} in long ones"
    );
}
