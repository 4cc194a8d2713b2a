//! Reads whole files of the scene.

use plumbline_audio::Reader;
use std::path::Path;

/// One list of samples per channel.
pub(crate) type Sides = Vec<Vec<f32>>;

/// Reads one of the scene's stems.
pub(crate) fn read(folder: &Path, file: &str) -> Sides {
    let mut reader = Reader::open(folder.join("stems").join(file)).unwrap_or_else(|error| panic!("{error}"));
    let mut room = vec![vec![0.0; 1 << 16]; reader.channels()];
    let mut out = vec![Vec::new(); reader.channels()];
    loop {
        match reader.read(&mut room).unwrap_or_else(|error| panic!("{error}")) {
            0 => return out,
            count => out.iter_mut().zip(&room).for_each(|(out, room)| out.extend(&room[..count])),
        }
    }
}
