//! FLAC files, written bit by bit from the published format.

/// A FLAC file, 16 bits, samples stored verbatim (RFC 9639, sections 8 and 9). At most eight channels of one length.
///
/// # Panics
/// If there are more than 65 million frames, which no test needs, or more than eight channels.
pub fn flac(rate: u32, channels: &[Vec<i16>]) -> Vec<u8> {
    const BLOCK: u16 = 1_000;
    let block = usize::from(BLOCK);
    let frames = channels.first().map_or(0, Vec::len);
    let count = u8::try_from(channels.len()).ok().filter(|count| (1..=8).contains(count));
    let count = count.expect("one to eight channels");
    let mut out = b"fLaC".to_vec();
    out.extend([0x80, 0, 0, 34]);
    out.extend(BLOCK.to_be_bytes());
    out.extend(BLOCK.to_be_bytes());
    out.extend([0; 6]);
    let packed = (u64::from(rate) << 44) | (u64::from(count - 1) << 41) | (15 << 36) | frames as u64;
    out.extend(packed.to_be_bytes());
    out.extend([0; 16]);
    for (number, first) in (0..frames).step_by(block).enumerate() {
        let length = u16::try_from(block.min(frames - first)).expect("a block");
        let mut frame = vec![0xFF, 0xF8, 0x70, ((count - 1) << 4) | 0x08];
        // Coded like a character in UTF-8 (section 9.1.5).
        let number = u32::try_from(number).ok().and_then(char::from_u32).expect("a short file");
        frame.extend(number.encode_utf8(&mut [0; 4]).bytes());
        frame.extend((length - 1).to_be_bytes());
        frame.push(crc8(&frame));
        for channel in channels {
            frame.push(0x02);
            for sample in &channel[first..first + usize::from(length)] {
                frame.extend(sample.to_be_bytes());
            }
        }
        frame.extend(crc16(&frame).to_be_bytes());
        out.extend(frame);
    }
    out
}

fn crc8(bytes: &[u8]) -> u8 {
    bytes.iter().fold(0, |crc, byte| {
        (0..8).fold(crc ^ byte, |c: u8, _| if c & 0x80 == 0 { c << 1 } else { (c << 1) ^ 0x07 })
    })
}

fn crc16(bytes: &[u8]) -> u16 {
    bytes.iter().fold(0, |crc, byte| {
        (0..8).fold(
            crc ^ (u16::from(*byte) << 8),
            |c: u16, _| if c & 0x8000 == 0 { c << 1 } else { (c << 1) ^ 0x8005 },
        )
    })
}
