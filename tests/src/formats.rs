//! Documents against the JSON Schemas in `docs/schema`.

use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};

/// A file of the documentation.
pub fn docs(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../docs").join(name)
}

/// The violations of a format's schema in a document; empty if it is valid.
pub fn broken(format: &str, document: &Value) -> Vec<String> {
    let path = docs("schema").join(format!("{format}.json"));
    let text = fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    let schema = serde_json::from_str(&text).expect("JSON");
    let validator = jsonschema::validator_for(&schema).expect("a schema of draft 2020-12");
    validator.iter_errors(document).map(|error| format!("{}: {error}", error.instance_path())).collect()
}

/// Checks that a document is valid, and that it is refused if any of these fields is missing or has another value.
#[track_caller]
pub fn check(format: &str, document: &Value, others: &[(&str, Option<Value>)]) {
    assert_eq!(broken(format, document), Vec::<String>::new(), "{format}");
    assert!(!others.is_empty(), "nothing was broken");
    for (pointer, other) in others {
        let mut spoiled = document.clone();
        let (parent, name) = pointer.rsplit_once('/').expect("a JSON pointer");
        let parent = spoiled.pointer_mut(parent).unwrap_or_else(|| panic!("no {pointer}"));
        let fields = parent.as_object_mut().expect("an object");
        assert!(fields.remove(name).is_some(), "no {pointer}");
        if let Some(other) = other {
            fields.insert(name.to_owned(), other.clone());
        }
        assert!(!broken(format, &spoiled).is_empty(), "{format} takes {other:?} for {pointer}");
    }
}
