//! States as no version has written them: made by replacing parts of a whole one, down to single numbers.

use super::*;
use plumbline_screen::settings::Reference;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

/// A state in which every field differs from its default where that is easy.
fn whole() -> Value {
    let mut saved = Saved {
        name: "Tower, west".to_owned(),
        role: Role::Foley,
        session: 'D',
        window: [900, 600],
        marks: vec![-3, 0, 7, 40],
        ..Saved::default()
    };
    saved.screen.reference = Some(Reference::of(&[100.0, 1_000.0], &[-20.0, -40.0]));
    saved.screen.export_folder = "reports".to_owned();
    serde_json::to_value(saved).expect("a state is JSON")
}

/// Paths to all parts of a value, itself included.
fn paths(value: &Value, at: &str, all: &mut Vec<String>) {
    all.push(at.to_owned());
    match value {
        Value::Object(fields) => {
            fields.iter().for_each(|(key, part)| paths(part, &format!("{at}/{key}"), all))
        }
        // A few of each list: thirds are alike.
        Value::Array(list) => list
            .iter()
            .enumerate()
            .take(3)
            .for_each(|(index, part)| paths(part, &format!("{at}/{index}"), all)),
        _ => {}
    }
}

fn anything() -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        any::<i64>().prop_map(Value::from),
        any::<u64>().prop_map(Value::from),
        any::<f64>().prop_map(Value::from),
        (-1_000.0..1_000.0).prop_map(Value::from),
        ".{0,80}".prop_map(Value::from),
        Just(Value::from("x".repeat(100_000))),
    ];
    leaf.prop_recursive(4, 64, 8, |part| {
        prop_oneof![
            prop::collection::vec(part.clone(), 0..8).prop_map(Value::from),
            prop::collection::vec(("[a-z_]{0,12}", part), 0..8)
                .prop_map(|fields| Value::Object(fields.into_iter().collect())),
        ]
    })
}

fn config() -> ProptestConfig {
    let seed = std::env::var("PLUMBLINE_SEED").ok().and_then(|seed| seed.parse().ok()).unwrap_or(0x57A7E);
    ProptestConfig { rng_seed: RngSeed::Fixed(seed), failure_persistence: None, ..ProptestConfig::default() }
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn any_state_is_read_within_bounds_and_written_alike(
        changes in prop::collection::vec((any::<prop::sample::Index>(), prop::option::of(anything())), 1..6),
    ) {
        let mut value = whole();
        for (which, with) in changes {
            let mut all = Vec::new();
            paths(&value, "", &mut all);
            let at = which.get(&all);
            match (with, at.rsplit_once('/')) {
                (Some(with), _) => *value.pointer_mut(at).expect("a path of it") = with,
                (None, Some((parent, key))) => {
                    if let Some(Value::Object(fields)) = value.pointer_mut(parent) {
                        fields.remove(key);
                    }
                }
                (None, None) => {}
            }
        }
        let text = value.to_string();
        let version = value.get("version").and_then(Value::as_u64).unwrap_or(0);
        let read = serde_json::from_str::<Saved>(&text);
        prop_assert_eq!(read.is_ok(), version > 0, "{}", text);
        if let Ok(read) = read {
            prop_assert!(read.name.len() <= LONGEST_NAME && read.marks.len() <= MOST_MARKS);
            prop_assert_eq!(within_bounds(read.window), read.window);
            prop_assert!(('A'..='H').contains(&read.session));
            let written = serde_json::to_string(&read).expect("a state is JSON");
            let again = serde_json::from_str::<Saved>(&written).expect("our own");
            prop_assert_eq!(&again, &read, "{}", written);
        }
    }

    #[test]
    fn a_field_that_cannot_be_read_costs_itself_alone(field in 0_usize..7, with in anything()) {
        let field = ["name", "role", "session", "window", "marks", "screen", "other"][field];
        let mut value = whole();
        let before: Saved = serde_json::from_value(value.clone()).expect("whole");
        value[field] = with;
        let mut after = serde_json::from_value::<Saved>(value).expect("an object with a version");
        match field {
            "name" => after.name.clone_from(&before.name),
            "role" => after.role = before.role,
            "session" => after.session = before.session,
            "window" => after.window = before.window,
            "marks" => after.marks.clone_from(&before.marks),
            "screen" => after.screen.clone_from(&before.screen),
            _ => {}
        }
        prop_assert_eq!(after, before);
    }
}

#[test]
fn a_state_switches_no_pulse_on() {
    let text =
        r#"{"version":"","params":{"hold":{"bool":true},"mark":{"bool":true}},"fields":{"other":"{}"}}"#;
    let mut state: PluginState = serde_json::from_str(text).expect("a state of the framework");
    sieve(&mut state);
    let written = serde_json::to_value(&state).expect("JSON");
    let off = json!({ "bool": false });
    assert_eq!(written["params"], json!({ "hold": { "bool": true }, "mark": off, "reset": off }));
    assert_eq!(written["fields"], json!({}));
}
