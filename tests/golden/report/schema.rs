//! The JSON Schemas and the tables of fields in `docs`, generated from the types of the formats.

use super::{Case, UPDATE, compare};
use plumbline_report::format::{Measured, Mics, Reading, Session, Sound, Survey};
use plumbline_tests::formats::{check, docs};
use plumbline_tests::views;
use schemars::JsonSchema;
use schemars::generate::SchemaSettings;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;

fn schema<T: JsonSchema>() -> Value {
    let settings = SchemaSettings::draft2020_12().for_serialize();
    settings.into_generator().into_root_schema_for::<T>().to_value()
}

fn formats() -> [(&'static str, Value); 3] {
    [
        ("plumbline-session", schema::<Session>()),
        ("plumbline-survey", schema::<Survey>()),
        ("plumbline-mics", schema::<Mics>()),
    ]
}

#[test]
fn schemas_are_those_of_the_types() {
    for (name, schema) in formats() {
        let text = serde_json::to_string_pretty(&schema).expect("plain data") + "\n";
        compare(&docs("schema").join(format!("{name}.json")), &text);
    }
}

#[test]
fn an_export_is_valid_and_a_broken_one_is_not() {
    let view = views::busy_log();
    let text = Case::new(&view.log).report().json();
    let document = serde_json::from_str(&text).expect("our own format");
    let others = [
        ("/format", Some(json!("plumbline-survey"))),
        ("/version", Some(json!(1))),
        ("/layer", None),
        ("/findings/0/severity", Some(json!("bad"))),
        ("/findings/0/severity", None),
        ("/findings/0/kind", Some(json!("hum"))),
        ("/findings/0/start/seconds", Some(json!("1.2"))),
        ("/findings/0/worst", Some(json!("6.2"))),
        ("/joins/0/at", Some(Value::Null)),
        ("/passages/0/width_percent", None),
        ("/passages/0/loudness/overs", Some(json!([0]))),
    ];
    check("plumbline-session", &document, &others);
}

/// The values that a field may have, in words.
fn values(schema: &Value) -> String {
    let join = |list: &Value, word: &dyn Fn(&Value) -> String| {
        list.as_array().into_iter().flatten().map(word).collect::<Vec<_>>().join(" or ")
    };
    if let Some(name) = schema["$ref"].as_str().and_then(|name| name.rsplit('/').next()) {
        return format!("[{name}](#{})", name.to_lowercase());
    }
    if let Some(only) = schema.get("const") {
        return format!("`{only}`");
    }
    if schema["enum"].is_array() {
        return join(&schema["enum"], &|one| format!("`{}`", one.as_str().unwrap_or("null")));
    }
    if schema["anyOf"].is_array() {
        return join(&schema["anyOf"], &values);
    }
    match &schema["type"] {
        Value::Array(_) => join(&schema["type"], &|one| values(&json!({ "type": one }))),
        Value::String(array) if array == "array" => {
            let count = schema["minItems"].as_u64().map(|count| format!("{count} × ")).unwrap_or_default();
            format!("list of {count}{}", values(&schema["items"]))
        }
        Value::String(word) if word == "string" => "text".to_owned(),
        Value::String(word) => word.clone(),
        other => panic!("no words for {other} in {schema}"),
    }
}

/// The fields of one object as a table; each of `parts` has a single line.
fn table(name: &str, schema: &Value, parts: &[(&str, Value)]) -> String {
    let line = |value: &Value| value.as_str().expect("every type and field has a comment").replace('\n', " ");
    let mut fields = schema["properties"].as_object().expect("an object").clone();
    let mut rows = String::new();
    for (part, of) in parts.iter().filter(|(part, _)| *part != name) {
        let own = of["properties"].as_object().expect("an object");
        if own.len() < fields.len() && own.keys().all(|field| fields.contains_key(field)) {
            fields.retain(|field, _| !own.contains_key(field));
            let _ = writeln!(rows, "| … | [{part}](#{}) | its fields |", part.to_lowercase());
        }
    }
    let mut head = format!(
        "#### {name}\n\n{}\n\n| field | values | meaning |\n|---|---|---|\n",
        line(&schema["description"])
    );
    for (field, schema) in &fields {
        let _ = writeln!(head, "| `{field}` | {} | {} |", values(schema), line(&schema["description"]));
    }
    head + &rows + "\n"
}

#[test]
fn every_field_is_documented() {
    const MARKS: [&str; 2] = ["<!-- fields -->\n", "<!-- end of fields -->\n"];
    let parts =
        [("Sound", schema::<Sound>()), ("Measured", schema::<Measured>()), ("Reading", schema::<Reading>())];
    let mut all: BTreeMap<String, Value> =
        parts.iter().map(|(name, of)| ((*name).to_owned(), of.clone())).collect();
    let mut text = String::new();
    for (_, root) in formats() {
        text += &table(root["title"].as_str().expect("a title"), &root, &[]);
        all.extend(root["$defs"].as_object().expect("definitions").clone());
    }
    for (name, schema) in &all {
        text += &table(name, schema, &parts);
    }
    let path = docs("formats.md");
    let page = fs::read_to_string(&path).expect("the page");
    let (before, rest) = page.split_once(MARKS[0]).expect("a mark");
    let (_, after) = rest.split_once(MARKS[1]).expect("a mark");
    compare(&path, &format!("{before}{}\n{text}{}{after}", MARKS[0], MARKS[1]));
    assert!(all.len() > 20 || std::env::var_os(UPDATE).is_some(), "{} objects", all.len());
}
