//! Prints the thirds of a WAV file: `cargo run -p plumbline-measure --example thirds -- tower.wav`
#![expect(clippy::print_stdout, reason = "a command")]

use plumbline_measure::bands::THIRD_LABELS;
use plumbline_measure::{Analyzer, Averaging, BandEdges, Glance, Grid, Position, SampleRate};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let path = std::env::args().nth(1).ok_or("name a WAV file")?;
    let mut file = hound::WavReader::open(&path)?;
    let spec = file.spec();
    if spec.channels != 2 || spec.sample_format != hound::SampleFormat::Int {
        return Err("this example reads two channels of whole numbers".into());
    }
    let scale = 2.0_f32.powi(1 - i32::from(spec.bits_per_sample));
    let mut analyzer = Analyzer::new(SampleRate::new(spec.sample_rate)?, 2, BandEdges::default());
    let (mut tenths, mut at) = (Vec::new(), Position { grid: Grid::Song, sample: 0 });
    let samples: Vec<i32> = file.samples().collect::<Result<_, _>>()?;
    for block in samples.chunks(2 * 512) {
        let side =
            |channel| block.iter().skip(channel).step_by(2).map(|x| *x as f32 * scale).collect::<Vec<_>>();
        let [left, right] = [side(0), side(1)];
        analyzer.push(at, &[&left, &right], &mut tenths);
        at.sample += i64::try_from(left.len())?;
    }
    let mut glance = Glance::default();
    analyzer.fill(&mut glance);

    println!("    Hz      dBFS   width %  coherence  mono loss dB");
    let show = |value: Option<f64>| value.map_or("–".to_owned(), |value| format!("{value:.2}"));
    for (label, third) in THIRD_LABELS.iter().zip(&glance.spectral(Averaging::SinceReset).thirds) {
        let width = third.side_share.map(|share| 100.0 * share);
        let [level, width, coherence, loss] =
            [third.level_dbfs, width, third.coherence, third.mono_loss_db].map(show);
        println!("{label:>6}  {level:>8}  {width:>8}  {coherence:>9}  {loss:>12}");
    }
    Ok(())
}
