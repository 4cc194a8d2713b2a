//! Measures a WAV file: `cargo run -p plumbline-measure --example measure_file -- tower.wav`
#![expect(clippy::print_stdout, reason = "a command")]

use plumbline_measure::loudness::{Energy, TENTHS_PER_BLOCK, block_mean_squares, integrated_lufs};
use plumbline_measure::{Analyzer, BandEdges, Grid, Position, SampleRate, TimeSums};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let path = std::env::args().nth(1).ok_or("name a WAV file")?;
    let mut file = hound::WavReader::open(&path)?;
    let spec = file.spec();
    let scale = 2.0_f32.powi(1 - i32::from(spec.bits_per_sample));
    let samples: Vec<f32> = match spec.sample_format {
        hound::SampleFormat::Float => file.samples().collect::<Result<_, _>>()?,
        hound::SampleFormat::Int => {
            file.samples::<i32>().map(|x| x.map(|x| x as f32 * scale)).collect::<Result<_, _>>()?
        }
    };
    let every = usize::from(spec.channels);
    let side = |channel| samples.iter().skip(channel).step_by(every).copied().collect::<Vec<f32>>();
    let (left, right) = (side(0), side(1.min(every - 1)));

    let mut analyzer = Analyzer::new(SampleRate::new(spec.sample_rate)?, every, BandEdges::default());
    let mut tenths = Vec::new();
    analyzer.push(Position { grid: Grid::Song, sample: 0 }, &[&left, &right], &mut tenths);
    analyzer.flush(&mut tenths);

    let energies: Vec<_> = tenths.iter().map(|tenth| (tenth.index, Energy::from(tenth))).collect();
    let blocks = block_mean_squares(&energies, TENTHS_PER_BLOCK);
    let mut sums = TimeSums::default();
    tenths.iter().for_each(|tenth| sums += tenth.sums);
    let power = sums.mean_squares();
    let peak = tenths.iter().flat_map(|tenth| tenth.true_peak).fold(0.0, f32::max);
    let show = |value: Option<f64>, unit: &str| value.map_or("–".to_owned(), |v| format!("{v:.2}{unit}"));
    println!("loudness     {}", show(integrated_lufs(blocks.iter().copied()), " LUFS"));
    println!("width        {}", show(power.side_share().map(|share| 100.0 * share), " %"));
    println!("correlation  {}", show(power.correlation(), ""));
    println!("true peak    {}", show((peak > 0.0).then(|| 20.0 * f64::from(peak).log10()), " dBTP"));
    Ok(())
}
