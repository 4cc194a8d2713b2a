use super::*;
use crate::stream_format::StreamFormat;
use plumbline_measure::SampleRate;

fn stereo() -> StreamFormat {
    StreamFormat { rate: SampleRate::new(48_000).unwrap(), channels: 2, side_channels: 0, offline: false }
}

fn open(format: StreamFormat) -> (Arc<AudioQueue>, Tap) {
    let queue = Arc::new(AudioQueue::new(format, Arc::default(), Arc::default()));
    (Arc::clone(&queue), Tap::new(queue))
}

fn song(position: i64) -> Stamp {
    Stamp { song: Some(position), playing: true }
}

fn drain(queue: &AudioQueue) -> Vec<Chunk> {
    std::iter::from_fn(|| queue.chunks.pop()).collect()
}

/// A ramp whose values never repeat within a test.
fn ramp(from: usize, n: usize) -> Vec<f32> {
    (from..from + n).map(|i| i as f32).collect()
}

fn counted(counter: &std::sync::atomic::AtomicU64) -> u64 {
    counter.load(Ordering::Relaxed)
}

#[test]
fn any_block_size_makes_full_chunks_with_every_sample_in_its_place() {
    let mut cases = 0;
    for block in [1_usize, 7, 32, 63, 64, 65, 511, 4_096] {
        let (queue, mut tap) = open(stereo());
        let total = 8_200;
        let mut at = 0;
        while at < total {
            let n = block.min(total - at);
            let (left, right) = (ramp(at, n), ramp(at + 100_000, n));
            tap.push(song(1_000 + at as i64), &[&left, &right], &[]);
            at += n;
        }
        tap.close();
        let chunks = drain(&queue);
        assert_eq!(chunks.len(), total.div_ceil(64), "block {block}");
        for (k, chunk) in chunks.iter().enumerate() {
            let first = k * 64;
            let n = (total - first).min(64);
            assert_eq!(chunk.len(), n);
            assert_eq!((chunk.position, chunk.on_song, chunk.playing), (1_000 + first as i64, true, true));
            assert_eq!(chunk.samples[0][..n], ramp(first, n));
            assert_eq!(chunk.samples[1][..n], ramp(first + 100_000, n));
            assert_eq!((chunk.start, chunk.jumps, chunk.lost, chunk.reset), (k == 0, 0, 0, false));
        }
        assert!(queue.closed.load(Ordering::Relaxed));
        cases += 1;
    }
    assert_eq!(cases, 8);
}

#[test]
fn a_position_off_by_eight_frames_continues_and_by_nine_jumps() {
    let mut cases = 0;
    for (off, jumps) in [(0, 0), (8, 0), (-8, 0), (9, 1), (-9, 1), (-5_000_000, 1), (5_000_000, 1)] {
        let (queue, mut tap) = open(stereo());
        let block = ramp(0, 32);
        tap.push(song(96), &[&block, &block], &[]);
        tap.push(song(128 + off), &[&block, &block], &[]);
        tap.close();
        let chunks = drain(&queue);
        assert_eq!(chunks.len(), if jumps > 0 { 2 } else { 1 }, "off by {off}");
        let last = chunks.last().unwrap();
        assert_eq!(last.jumps, jumps, "off by {off}");
        assert_eq!(last.position, if jumps > 0 { 128 + off } else { 96 });
        assert_eq!(counted(&queue.counts.jumps), u64::from(jumps));
        cases += 1;
    }
    assert_eq!(cases, 7);
}

#[test]
fn play_stop_and_restart_end_the_chunk_and_are_no_jumps() {
    let (queue, mut tap) = open(stereo());
    let block = ramp(0, 10);
    let stopped = Stamp { song: Some(500), playing: false };
    let nowhere = Stamp { song: None, playing: true };
    tap.push(stopped, &[&block, &block], &[]);
    tap.push(song(500), &[&block, &block], &[]);
    tap.restart();
    tap.push(song(510), &[&block, &block], &[]);
    tap.push(nowhere, &[&block, &block], &[]);
    tap.push(stopped, &[&block, &block], &[]);
    tap.close();
    let tags: Vec<_> = drain(&queue).iter().map(|c| (c.position, c.on_song, c.playing, c.start)).collect();
    let expected = [
        (0, false, false, true),
        (500, true, true, true),
        (510, true, true, true),
        (30, false, true, true),
        (40, false, false, true),
    ];
    assert_eq!(tags, expected);
    assert_eq!(counted(&queue.counts.jumps), 0);
}

#[test]
fn a_position_out_of_this_world_is_none() {
    for wild in [i64::MIN, i64::MAX, 1 << 52, -(1 << 52)] {
        let (queue, mut tap) = open(stereo());
        let block = ramp(0, 64);
        tap.push(song(wild), &[&block, &block], &[]);
        tap.push(song(wild), &[&block, &block], &[]);
        let positions: Vec<_> = drain(&queue).iter().map(|c| (c.position, c.on_song)).collect();
        assert_eq!(positions, [(0, false), (64, false)], "{wild}");
    }
}

#[test]
fn a_full_queue_drops_counts_and_tells_with_the_next_chunk() {
    let (queue, mut tap) = open(stereo());
    let room = queue.format.room();
    assert_eq!(room, 3_000, "4 s at 48 kHz in chunks of 64");
    let block = ramp(0, 64);
    let mut at = 0;
    let mut push = |tap: &mut Tap| {
        tap.push(song(at), &[&block, &block], &[]);
        at += 64;
    };
    for _ in 0..room + 5 {
        push(&mut tap);
    }
    assert_eq!(counted(&queue.counts.gaps), 1);
    assert_eq!(counted(&queue.counts.lost_frames), 5 * 64);
    assert!(drain(&queue).iter().all(|c| c.lost == 0));
    push(&mut tap);
    push(&mut tap);
    let chunks = drain(&queue);
    assert_eq!(chunks[0].lost, 5 * 64);
    assert_eq!(chunks[0].position, (room as i64 + 5) * 64, "the position tells the gap, too");
    assert_eq!(chunks[1].lost, 0);
}

/// A push into the last free slot would spin while the worker is preempted within `pop` (crossbeam-queue 0.3,
/// `ArrayQueue::push`: the branch that follows `head + one_lap != tail`).
#[test]
fn the_last_slot_is_never_used_and_four_seconds_fit_all_the_same() {
    let mut cases = 0;
    for side_channels in [0, 2] {
        let (queue, mut tap) = open(StreamFormat { side_channels, ..stereo() });
        let block = ramp(0, 64);
        for k in 0..4_000 {
            let side: &[&[f32]] = &[&block, &block];
            tap.push(song(k * 64), &[&block, &block], &side[..usize::from(side_channels)]);
        }
        assert_eq!(queue.chunks.len(), 4 * 48_000 / 64 * queue.format.chunks_a_step());
        assert!(!queue.chunks.is_full(), "{side_channels} channels of side-chain");
        cases += 1;
    }
    assert_eq!(cases, 2);
}

#[test]
fn a_dropped_chunk_hands_its_tags_on() {
    let (queue, mut tap) = open(stereo());
    let block = ramp(0, 64);
    for k in 0..queue.format.room() as i64 {
        tap.push(song(k * 64), &[&block, &block], &[]);
    }
    tap.reset();
    tap.push(song(9_000_000), &[&block, &block], &[]);
    tap.push(song(5_000), &[&block, &block], &[]);
    drain(&queue);
    tap.push(song(5_064), &[&block, &block], &[]);
    let chunk = drain(&queue)[0];
    assert_eq!((chunk.start, chunk.jumps, chunk.reset, chunk.lost), (true, 2, true, 128));
    assert_eq!(counted(&queue.counts.gaps), 1);
}

#[test]
fn a_loss_at_the_very_end_is_handed_over_by_the_close() {
    let (queue, mut tap) = open(stereo());
    let block = ramp(0, 64);
    for k in 0..queue.format.room() as i64 + 3 {
        tap.push(song(k * 64), &[&block, &block], &[]);
    }
    tap.push(song(7), &[&block[..10], &block[..10]], &[]);
    tap.reset();
    tap.close();
    assert_eq!(counted(&queue.lost_at_end), 3 * 64 + 10, "the part-filled chunk had no room either");
    assert_eq!(counted(&queue.counts.lost_frames), 3 * 64 + 10);
    assert_eq!(counted(&queue.jumps_at_end), 1);
    assert!(queue.reset.load(Ordering::Relaxed), "left for the worker");
}

#[test]
fn slices_that_do_not_fit_are_counted_and_do_no_harm() {
    let (queue, mut tap) = open(stereo());
    let block = ramp(1, 64);
    tap.push(song(0), &[&block, &block[..40]], &[]);
    tap.push(song(64), &[&block], &[]);
    tap.push(song(128), &[], &[]);
    tap.push(song(128), &[&block, &block, &block], &[&block]);
    tap.push(song(192), &[&block, &[]], &[]);
    tap.push(song(256), &[&[], &[]], &[]);
    tap.close();
    let chunks = drain(&queue);
    let tags: Vec<_> = chunks.iter().map(|c| (c.position, c.frames, c.lost)).collect();
    assert_eq!(tags, [(0, 40, 0), (64, 64, 24), (128, 64, 0)]);
    assert!(chunks[1].samples[1].iter().all(|&s| s == 0.0), "the missing channel is silence");
    assert_eq!(chunks[2].samples[1][..], block[..]);
    assert_eq!(counted(&queue.counts.misfits), 5);
    assert_eq!(counted(&queue.counts.lost_frames), 24 + 64);
    assert_eq!(counted(&queue.lost_at_end), 64);
}

#[test]
fn side_chain_chunks_follow_their_main_chunk_and_both_go_or_none() {
    let (queue, mut tap) = open(StreamFormat { side_channels: 1, ..stereo() });
    let (main, side) = (ramp(0, 96), ramp(500, 96));
    tap.push(song(0), &[&main, &main], &[&side]);
    tap.push(song(96), &[&main, &main], &[]);
    let chunks = drain(&queue);
    let buses: Vec<_> = chunks.iter().map(|c| (c.bus, c.position)).collect();
    let (m, s) = (Bus::Main, Bus::Side);
    assert_eq!(buses, [(m, 0), (s, 0), (m, 64), (s, 64), (m, 128), (s, 128)]);
    assert_eq!(chunks[1].samples[0][..], side[..64]);
    assert_eq!(chunks[3].samples[0][..32], side[64..]);
    assert!(chunks[3].samples[0][32..].iter().all(|&x| x == 0.0), "an unconnected side-chain is silence");
    assert_eq!(counted(&queue.counts.misfits), 1);
    // Room for one only: neither is sent.
    while queue.chunks.len() < queue.format.room() - 1 {
        queue.chunks.push(Chunk::EMPTY).unwrap();
    }
    tap.push(song(192), &[&main[..64], &main[..64]], &[&side[..64]]);
    assert_eq!(queue.chunks.len(), queue.format.room() - 1);
    assert_eq!(counted(&queue.counts.lost_frames), 64);
}

#[test]
fn offline_gives_up_on_a_dead_worker_once_and_hopes_again_when_there_is_room() {
    let (queue, mut tap) = open(StreamFormat { offline: true, ..stereo() });
    let block = ramp(0, 64);
    let room = queue.format.room() as i64;
    for k in 0..room {
        tap.push(song(k * 64), &[&block, &block], &[]);
    }
    queue.worker.set_measures(true);
    tap.wait_at_most(Duration::from_millis(30));
    tap.push(song(room * 64), &[&block, &block], &[]);
    assert!(tap.patience.is_zero(), "the wait was in vain");
    // It no longer waits: doing so for a thousand blocks would take half a minute.
    for k in 1..1_000 {
        tap.push(song((room + k) * 64), &[&block, &block], &[]);
    }
    assert_eq!(counted(&queue.counts.lost_frames), 64_000);
    drain(&queue);
    tap.push(song((room + 1_000) * 64), &[&block, &block], &[]);
    assert_eq!(tap.patience, LONGEST_WAIT);
    assert_eq!(drain(&queue)[0].lost, 64_000);
}

#[test]
fn offline_does_not_wait_for_a_worker_that_does_not_exist() {
    let (queue, mut tap) = open(StreamFormat { offline: true, ..stereo() });
    let block = ramp(0, 64);
    let room = queue.format.room() as i64;
    let start = Instant::now();
    for k in 0..room + 100 {
        tap.push(song(k * 64), &[&block, &block], &[]);
    }
    assert!(start.elapsed() < LONGEST_WAIT / 2, "{:?}", start.elapsed());
    assert_eq!(counted(&queue.counts.lost_frames), 6_400);
    assert_eq!(tap.patience, LONGEST_WAIT, "a worker that starts later is waited for");
}

#[test]
fn a_retired_tap_measures_nothing() {
    let (queue, mut tap) = open(stereo());
    queue.retired.store(true, Ordering::Relaxed);
    let block = ramp(0, 640);
    tap.push(song(0), &[&block, &block], &[]);
    tap.close();
    assert!(queue.chunks.is_empty());
}
