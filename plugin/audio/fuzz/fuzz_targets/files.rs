//! Any bytes as an audio file: everything that a survey does with them ends in a result or an error.
#![no_main]

use libfuzzer_sys::fuzz_target;
use plumbline_audio::{Mark, Options, Reader, StemFile, Stems, copy_with_marks, cue_points};
use std::ops::ControlFlow;
use std::path::PathBuf;

/// Most blocks read from a file: a few bytes of a lossless coding may hold hours of silence.
const BLOCKS_MOST: usize = 200;

// The reader turns a panic of the decoding library into an error, but the fuzzer's own hook would end the process
// first. A panic that is not caught still ends it.
fuzz_target!(init: std::panic::set_hook(Box::new(|_| {})), |bytes: &[u8]| {
    let folder = std::env::temp_dir().join(format!("plumbline-fuzz-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder");
    let (path, copy): (PathBuf, PathBuf) = (folder.join("in.wav"), folder.join("out.wav"));
    std::fs::write(&path, bytes).expect("written");
    let channels = match Reader::open(&path) {
        Ok(mut reader) => {
            let mut block = vec![vec![0.0; 333]; reader.channels()];
            for _ in 0..BLOCKS_MOST {
                match reader.read(&mut block) {
                    Ok(count) if count > 0 => assert!(count <= 333),
                    Ok(_) => break,
                    Err(error) => {
                        assert!(!error.to_string().contains('\n'));
                        break;
                    }
                }
            }
            reader.channels()
        }
        Err(error) => {
            assert!(!error.to_string().contains('\n'));
            1
        }
    };
    let stem = StemFile { path: path.clone(), channels: Some(vec![channels - 1]) };
    for resample_hz in [None, Some(48_000)] {
        if let Ok(mut stems) = Stems::open(&[stem.clone(), stem.clone()], &Options { resample_hz }) {
            let mut blocks = vec![vec![vec![0.0; 1_000]]; 2];
            for _ in 0..BLOCKS_MOST {
                match stems.read(&mut blocks) {
                    Ok(count) if count > 0 => {}
                    _ => break,
                }
            }
        }
    }
    if let Err(error) = cue_points(&path) {
        assert!(!error.to_string().contains('\n'));
    }
    let mark = Mark { start: 3, frames: 9, label: "a hole".to_owned() };
    if copy_with_marks(&path, &copy, &[mark], &mut |_, _| ControlFlow::Continue(())).is_ok() {
        assert!(std::fs::metadata(&copy).expect("there").len() <= bytes.len() as u64 + 400);
        // What is written can be read again, with the same sound.
        if let Ok(reader) = Reader::open(&path) {
            let again = Reader::open(&copy).expect("a copy of a file that opens, opens");
            assert_eq!((reader.channels(), reader.rate_hz()), (again.channels(), again.rate_hz()));
        }
        std::fs::remove_file(&copy).expect("removed");
    }
});
