//! The state: a saved one is restored, and an invalid one is harmless.

use crate::parameters::HOLD;
use crate::signals::{arbitrary_bits, assert_bit_equal};
use crate::{STEREO, assert_quiet};
use plumbline_tests::rig::clap::{Instance, Label, Library};
use plumbline_tests::rig::state::{framed, memory_of, with_memory};
use plumbline_tests::rig::{Moment, bundles, child, vst3};

/// Invalid states by name.
fn hostile() -> Vec<(String, Vec<u8>)> {
    let mut all: Vec<(String, Vec<u8>)> = Vec::new();
    let mut add = |name: &str, bytes: Vec<u8>| all.push((name.to_owned(), bytes));
    add("empty", Vec::new());
    add("three bytes", vec![1, 2, 3]);
    add("a length alone", 64_u64.to_le_bytes().to_vec());
    add("the greatest length", [vec![0xff; 8], vec![b'{'; 64]].concat());
    add("a length over what may be", [(1_u64 << 40).to_le_bytes().to_vec(), vec![b' '; 64]].concat());
    add("a length of 200 MB with nothing behind it", 200_000_000_u64.to_le_bytes().to_vec());
    add("no JSON", framed("the mason is on the scaffold"));
    add("not UTF-8", [4_u64.to_le_bytes().to_vec(), vec![0xff, 0xfe, 0xfd, 0xfc]].concat());
    add("JSON of another kind", framed("[1,2,3]"));
    add("nothing in it", framed("{}"));
    add("deep JSON", framed(&"[".repeat(100_000)));
    add("deep JSON, closed", framed(&format!("{}{}", "[".repeat(100_000), "]".repeat(100_000))));
    let deep = format!("{}{}", r#"{"a":"#.repeat(50_000), "1");
    add("deep JSON in the memory", with_memory(&deep));
    add("a memory that is no JSON", with_memory("{{{{"));
    add("a memory of another kind", with_memory("[[[]]]"));
    add("a memory without a version", with_memory(r#"{"name":"bell"}"#));
    add("version nought", with_memory(r#"{"version":0,"name":"bell"}"#));
    add("a version below nought", with_memory(r#"{"version":-1,"name":"bell"}"#));
    add("a version that is words", with_memory(r#"{"version":"newest","name":"bell"}"#));
    add("a version beyond all numbers", with_memory(r#"{"version":1e999,"name":"bell"}"#));
    add(
        "a memory of ten megabytes",
        with_memory(&format!(r#"{{"version":1,"name":"{}"}}"#, "x".repeat(10_000_000))),
    );
    let parameter =
        |value: &str| framed(&format!(r#"{{"version":"0.1.0","params":{{"hold":{value}}},"fields":{{}}}}"#));
    add("a parameter of another kind", parameter(r#"{"f32":1e38}"#));
    add("a parameter that is words", parameter(r#""on""#));
    add("a parameter nobody knows", framed(r#"{"params":{"bypass":{"bool":true}},"fields":{"other":"{}"}}"#));
    // Random bytes with a fixed seed; the first eight are a valid length.
    for seed in 0..32_u32 {
        let mut state = seed.wrapping_mul(0x9e37_79b9) | 1;
        let mut bytes: Vec<u8> = 256_u64.to_le_bytes().to_vec();
        bytes.extend((0..256).map(|_| {
            state ^= state << 13;
            state ^= state >> 17;
            state ^= state << 5;
            (state >> 24) as u8
        }));
        add(&format!("arbitrary {seed}"), bytes);
    }
    all
}

/// Values out of bounds in an otherwise valid memory, and the values expected instead.
const BOUNDED: [(&str, &str, &str); 9] = [
    (r#""window":[0,0]"#, "window", "[760,480]"),
    (r#""window":[4294967295,4294967295]"#, "window", "[7680,4320]"),
    (r#""window":[-5,1e9]"#, "window", "[1180,760]"),
    (r#""window":"wide""#, "window", "[1180,760]"),
    (r#""session":"Z""#, "session", r#""A""#),
    (r#""session":"AB""#, "session", r#""A""#),
    (r#""session":"C""#, "session", r#""C""#),
    (r#""role":"Bell""#, "role", r#""Mix""#),
    (r#""name":"a\u0000b\nc""#, "name", r#""abc""#),
];

fn still_works(instance: &mut Instance, case: &str) {
    let mut processor = instance.activate(48_000.0, 64).unwrap();
    let input = arbitrary_bits(2, 500);
    let out = processor.play(&input, Moment::stopped()).unwrap();
    assert_bit_equal(&out, &input, case);
    instance.deactivate(processor);
}

#[test]
fn clap_state_comes_back_equal() {
    let Some(quiet) = child::run(&[], || {
        let library = Library::load(&bundles::clap().unwrap()).unwrap();
        let mut first = library.create(STEREO, Label::default()).unwrap();
        let usual = first.save().unwrap();
        first.set_value(HOLD, 1.0).unwrap();
        first
            .load(&with_memory(
                r#"{"version":1,"name":"Tower, west","role":"Foley","session":"C","window":[900,600]}"#,
            ))
            .unwrap();
        let saved = first.save().unwrap();
        assert_ne!(saved, usual);
        let memory = memory_of(&saved).unwrap();
        assert_eq!(memory["name"], "Tower, west");
        assert_eq!(memory["role"], "Foley");
        assert_eq!(memory["session"], "C");
        assert_eq!(memory["window"], serde_json::json!([900, 600]));

        let mut second = library.create(STEREO, Label::default()).unwrap();
        let rescans = second.notes().value_rescans.load(std::sync::atomic::Ordering::Acquire);
        second.load(&saved).unwrap();
        assert_eq!(second.save().unwrap(), saved);
        assert_eq!(second.value(HOLD).unwrap(), 1.0);
        let now = second.notes().value_rescans.load(std::sync::atomic::Ordering::Acquire);
        assert!(now > rescans, "a host that caches values must be told to reread them");
        // Also while processing.
        let processor = second.activate(48_000.0, 64).unwrap();
        second.load(&usual).unwrap();
        assert_eq!(second.save().unwrap(), usual);
        second.deactivate(processor);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn clap_refuses_what_is_no_state_and_goes_on() {
    let Some(quiet) = child::run(&[], || {
        let library = Library::load(&bundles::clap().unwrap()).unwrap();
        let mut instance = library.create(STEREO, Label::default()).unwrap();
        let good = with_memory(r#"{"version":1,"name":"Tower, west","session":"B"}"#);
        instance.load(&good).unwrap();
        let before = instance.save().unwrap();
        let mut cases = 0;
        for (name, bytes) in hostile() {
            // The framework may refuse the framing or leave out the field.
            let _ = instance.load(&bytes);
            assert!(instance.save().unwrap() == before, "`{name}` changed the state");
            cases += 1;
        }
        for length in 0..before.len() {
            assert!(instance.load(&before[..length]).is_err(), "a state cut off at {length} was taken");
            cases += 1;
        }
        assert!(instance.save().unwrap() == before);
        assert!(cases > 200, "{cases}");
        still_works(&mut instance, "after hostile states");
    }) else {
        return;
    };
    // The framework logs what it refused in debug builds only.
    assert!(!quiet.stderr.contains("panicked"), "{}", quiet.stderr);
}

#[test]
fn clap_bounds_what_a_state_asks_for() {
    let Some(quiet) = child::run(&[], || {
        let library = Library::load(&bundles::clap().unwrap()).unwrap();
        let mut cases = 0;
        for (field, key, expected) in BOUNDED {
            let mut instance = library.create(STEREO, Label::default()).unwrap();
            instance.load(&with_memory(&format!(r#"{{"version":1,{field}}}"#))).unwrap();
            let memory = memory_of(&instance.save().unwrap()).unwrap();
            assert_eq!(memory[key].to_string(), expected, "{field}");
            cases += 1;
        }
        // The known fields of a future version are read.
        let mut instance = library.create(STEREO, Label::default()).unwrap();
        instance.load(&with_memory(r#"{"version":9,"name":"later","shape":"unknown"}"#)).unwrap();
        assert_eq!(memory_of(&instance.save().unwrap()).unwrap()["name"], "later");
        let long = "ü".repeat(500);
        instance.load(&with_memory(&format!(r#"{{"version":1,"name":"{long}"}}"#))).unwrap();
        let name = memory_of(&instance.save().unwrap()).unwrap()["name"].as_str().unwrap().to_owned();
        assert_eq!(name, "ü".repeat(32));
        assert_eq!(cases, BOUNDED.len());
        still_works(&mut instance, "after states out of bounds");
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn vst3_state_comes_back_equal_and_hostile_bytes_do_no_harm() {
    let Some(quiet) = child::run(&[], || {
        let bundle = bundles::vst3().unwrap();
        let (classes, _) = vst3::classes(&bundle).unwrap();
        let create = || vst3::Instance::create(&bundle, &classes[0].id, 48_000.0, 64).unwrap();
        let mut first = create();
        let usual = first.save().unwrap();
        first.load(&with_memory(r#"{"version":1,"name":"Tower, west","session":"D"}"#)).unwrap();
        let saved = first.save().unwrap();
        assert_ne!(saved, usual);
        let mut second = create();
        second.load(&saved).unwrap();
        assert!(second.save().unwrap() == saved);

        let mut cases = 0;
        for (name, bytes) in hostile() {
            let _ = second.load(&bytes);
            assert!(second.save().unwrap() == saved, "`{name}` changed the state");
            cases += 1;
        }
        assert!(cases > 50, "{cases}");
        second.start().unwrap();
        let input = arbitrary_bits(2, 500);
        let out = second.play(&input, Moment::stopped()).unwrap();
        assert_bit_equal(&out, &input, "after hostile states");
        second.stop().unwrap();
    }) else {
        return;
    };
    assert!(!quiet.stderr.contains("panicked"), "{}", quiet.stderr);
}
