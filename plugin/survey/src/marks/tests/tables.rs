//! CSV by RFC 4180.

use super::{at, refused};
use crate::marks::{Entry, read_table};
use plumbline_measure::FrameRate;

fn named(label: &str, name: &str) -> Entry {
    let name = Some(name.to_owned()).filter(|name| !name.is_empty());
    Entry { label: at(FrameRate::F25, label), name, ..Entry::default() }
}

#[test]
fn marks_are_read_whatever_the_line_ends_and_the_byte_order_mark() {
    let lines =
        ["timecode,name", "01:00:05:12,bell", "01:00:09:00,", "01:00:11:00,\"\"\"third\"\", at dusk\""];
    let expected =
        [named("01:00:05:12", "bell"), named("01:00:09:00", ""), named("01:00:11:00", "\"third\", at dusk")];
    let mut read = 0;
    for mark in ["", "\u{feff}"] {
        for end in ["\n", "\r\n"] {
            for last in ["", end, &end.repeat(3)] {
                let text = format!("{mark}{}{last}", lines.join(end));
                assert_eq!(read_table(text.as_bytes(), FrameRate::F25), Ok(expected.to_vec()), "{text:?}");
                read += 1;
            }
        }
    }
    assert_eq!(read, 12);
}

#[test]
fn columns_are_known_by_name_in_any_order() {
    let seconds = |seconds, name: Option<&str>, transition_frames| Entry {
        label: None,
        seconds: Some(seconds),
        name: name.map(str::to_owned),
        transition_frames,
    };
    let text = "Name,scene,SECONDS , transition_seconds\nbell,7,1.5,1.0\n,8,-2,\n\n,,,\ndusk,9,3e1\n";
    let expected = [seconds(1.5, Some("bell"), 25), seconds(-2.0, None, 0), seconds(30.0, Some("dusk"), 0)];
    assert_eq!(read_table(text.as_bytes(), FrameRate::F25), Ok(expected.to_vec()));
    // Our own joins: a place on the computer's clock, or before 00:00:00:00, is outside any programme.
    let text = "layer,clock,at_timecode,at_seconds,name\nMix,song,00:00:02:00,2.04,'=bell\nMix,clock,,7.5,a\n\
                Mix,song,−00:00:00:03,-0.12,b\n";
    let all = read_table(text.as_bytes(), FrameRate::F25).expect("our own table");
    let first = Entry { seconds: Some(2.04), ..named("00:00:02:00", "=bell") };
    let elsewhere = |name: &str| Entry { name: Some(name.to_owned()), ..Entry::default() };
    assert_eq!(all, [first, elsewhere("a"), elsewhere("b")]);
    assert_eq!(read_table(b"seconds\n", FrameRate::F25), Ok(Vec::new()), "no mark is no fault");
}

#[test]
fn a_name_is_one_line_of_bounded_length() {
    let text = format!("seconds,name\n1,\"a\nb\u{1b}c\"\n2,{}\n3,\"  \"\n", "é".repeat(200));
    let names: Vec<Option<String>> = read_table(text.as_bytes(), FrameRate::F25)
        .expect("three marks")
        .into_iter()
        .map(|entry| entry.name)
        .collect();
    assert_eq!(names, [Some("a b c".to_owned()), Some("é".repeat(64)), None]);
}

#[test]
fn what_is_broken_is_named_by_its_line() {
    refused(
        read_table,
        FrameRate::F25,
        &[
            ("", 1, "empty"),
            ("\r\n\r\n", 1, "empty"),
            ("place,name\n1,bell\n", 1, "timecode or seconds"),
            ("timecode;name\n", 1, "commas"),
            ("timecode\r\n01:00:00:00\r\n\r\n01:00:00\r\n", 4, "HH:MM:SS:FF"),
            ("timecode\n01:00:00:00\n01:00:00:25\n", 3, "frames to 24"),
            ("timecode\n01:00:00;00\n", 2, "29.97df"),
            ("timecode,name\n,bell\n", 2, "no timecode"),
            ("seconds,name\n,bell\n", 2, "no seconds"),
            ("timecode,seconds,name\n,,bell\n", 2, "neither"),
            ("seconds\n1\nnan\n", 3, "`nan`"),
            ("seconds\ninf\n", 2, "`inf`"),
            ("seconds\n\"1,5\"\n", 2, "decimal point"),
            ("seconds,name\n1,bell, at dusk\n", 2, "3 cells"),
            ("seconds,name\n1,bell\n2,\"dusk\n3,dawn\n", 3, "quote"),
            ("seconds,transition_seconds\n1,-1\n", 2, "0 to 60"),
            ("seconds,transition_seconds\n1,61\n", 2, "0 to 60"),
        ],
    );
    refused(read_table, FrameRate::F29_97Drop, &[("timecode\n00:01:00;00\n", 2, "skips it")]);
    let latin = read_table(b"seconds,name\n1,bell\n2,b\xE9lier\n", FrameRate::F25).expect_err("Latin 1");
    assert_eq!((latin.line, latin.what.contains("UTF-8")), (3, true));
    let wide = read_table(b"\xFF\xFEs\0", FrameRate::F25).expect_err("UTF-16");
    assert!(wide.what.contains("UTF-16"));
}
