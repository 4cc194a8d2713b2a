//! Edit decision lists in the form CMX 3600, written out from memory.

use super::{at, refused};
use crate::marks::{Entry, read_edit_list};
use plumbline_measure::FrameRate;

const LIST: &str = "\
TITLE: BELL TOWER 3 01:00:00:00 01:00:05:00
FCM: NON-DROP FRAME

001  AX       V     C        00:00:00:00 00:00:05:00 01:00:00:00 01:00:05:00
* FROM CLIP NAME: Scaffold
002  TOWER    V     C        10:00:05:00 10:00:05:00 01:00:05:00 01:00:05:00
002  BELL     V     D    025 11:00:00:00 11:00:05:00 01:00:05:00 01:00:10:00
* FROM CLIP NAME: Scaffold
* TO CLIP NAME: Bell, second
M2   BELL     025.0          11:00:00:00
FCM: DROP FRAME
003  007      AA/V  W001 012 00:00:00;00 00:00:05;00 01:00:10:00 01:00:15:00
* COMMENT: 01:00:00:00 to 01:00:05:00
>>> SOURCE  TOWER
004  AX       A2    K    030 00:00:00:00 00:00:05:00 01:00:15:00 01:00:20:00
000005 AX     B     KB       00:00:00:00 00:00:05:00 01:00:20:00 01:00:25:00
006  AX       V     K B  010 00:00:00:00 00:00:05:00 01:00:25:00 01:00:30:00
";

fn entry(label: &str, name: Option<&str>, transition_frames: u32) -> Entry {
    let name = name.map(str::to_owned);
    Entry { label: at(FrameRate::F25, label), seconds: None, name, transition_frames }
}

#[test]
fn each_event_is_a_mark_where_it_is_recorded() {
    let expected = vec![
        entry("01:00:00:00", Some("Scaffold"), 0),
        entry("01:00:05:00", None, 0),
        entry("01:00:05:00", Some("Bell, second"), 25),
        entry("01:00:10:00", None, 12),
        entry("01:00:15:00", None, 0),
        entry("01:00:20:00", None, 0),
        entry("01:00:25:00", None, 0),
    ];
    for mark in ["", "\u{feff}"] {
        for end in ["\n", "\r\n"] {
            let text = format!("{mark}{}", LIST.replace('\n', end));
            assert_eq!(read_edit_list(text.as_bytes(), FrameRate::F25).as_ref(), Ok(&expected));
        }
    }
}

#[test]
fn labels_count_as_the_list_says() {
    let list = "FCM: DROP FRAME\n1 AX V C 00:00:00;00 00:00:05;00 00:01:00;02 00:01:05;00\n";
    let read = read_edit_list(list.as_bytes(), FrameRate::F29_97Drop).expect("a list");
    assert_eq!(read[0].label, at(FrameRate::F29_97Drop, "00:01:00;02"));
    let non_drop = list.replace("DROP", "NON-DROP").replace(';', ":");
    assert!(read_edit_list(non_drop.as_bytes(), FrameRate::F29_97).is_ok());
    refused(read_edit_list, FrameRate::F29_97, &[(list, 1, "29.97df")]);
    refused(read_edit_list, FrameRate::F29_97Drop, &[(&non_drop, 1, "29.97ndf")]);
    refused(read_edit_list, FrameRate::F25, &[("FCM: SOMETIMES\n", 1, "NON-DROP FRAME")]);
}

#[test]
fn what_is_broken_is_named_by_its_line() {
    const TIMES: &str = "00:00:00:00 00:00:05:00 01:00:00:00 01:00:05:00";
    let broken = |event: &str| format!("TITLE: x\n\n{event}\n");
    let mut cases = 0;
    for (event, word) in [
        (format!("001 AX V C {}", &TIMES[..35]), "expected an event"),
        (format!("001 AX V C {TIMES} 00:00:00:00"), "expected an event"),
        ("001 AX V C".to_owned(), "expected an event"),
        ("001".to_owned(), "expected an event"),
        (format!("O01 AX V C {TIMES}"), "`O01`"),
        (format!("1x AX V C {TIMES}"), "`1x`"),
        (format!("0000001 AX V C {TIMES}"), "`0000001`"),
        (format!("001 AX V X {TIMES}"), "`X`"),
        (format!("001 AX V W {TIMES}"), "`W`"),
        (format!("001 AX V C 025 {TIMES}"), "a cut has no length"),
        (format!("001 AX V D {TIMES}"), "expected an event"),
        (format!("001 AX V D two {TIMES}"), "`two`"),
        (format!("001 AX V D -25 {TIMES}"), "`-25`"),
        (format!("001 AX C {TIMES}"), "expected an event"),
        (format!("001 AX V C x{TIMES}"), "source"),
        (format!("001 AX V C {}", TIMES.replace("01:00:00:00", "01:00:00:25")), "record in"),
        (format!("001 AX V C {}", TIMES.replace("01:00:05:00", "01:60:05:00")), "record out"),
        (format!("001 AX V C {}", TIMES.replace("01:00:00:00", "01:00:00;00")), "29.97df"),
    ] {
        refused(read_edit_list, FrameRate::F25, &[(&broken(&event), 3, word)]);
        cases += 1;
    }
    assert_eq!(cases, 18);
    refused(read_edit_list, FrameRate::F25, &[("", 1, "no line"), ("TITLE: x\n* note\n", 1, "no line")]);
}
