//! The state of an instance as saved in a project, with some fields changed.

use super::{RigError, doing};
use plumbline_programme::Role;
use serde_json::{Map, Value, json};

/// Bytes of the length before the JSON.
const FRAME: usize = 8;

/// A state: the length of the JSON in eight bytes, lowest first, and the JSON.
pub fn framed(json: &str) -> Vec<u8> {
    let mut bytes = (json.len() as u64).to_le_bytes().to_vec();
    bytes.extend(json.as_bytes());
    bytes
}

/// A state with `memory` in the plug-in's own field.
pub fn with_memory(memory: &str) -> Vec<u8> {
    let text = Value::String(memory.to_owned());
    framed(&format!(r#"{{"version":"0.1.0","params":{{}},"fields":{{"memory":{text}}}}}"#))
}

/// The plug-in's own field in a saved state.
///
/// # Errors
/// If the bytes are not a state.
pub fn memory_of(state: &[u8]) -> Result<Map<String, Value>, RigError> {
    let whole = parsed(state)?;
    let text = whole["fields"]["memory"].as_str().ok_or_else(|| RigError::new("a state without a memory"))?;
    serde_json::from_str(text).map_err(doing("reading a state's memory"))
}

/// A saved state with another name, role and session letter, as of a layer that its user has named.
///
/// # Errors
/// If the bytes are not a state.
pub fn named(state: &[u8], name: &str, role: Role, session: char) -> Result<Vec<u8>, RigError> {
    let mut whole = parsed(state)?;
    let mut memory = memory_of(state)?;
    memory.insert("name".to_owned(), json!(name));
    memory.insert("role".to_owned(), json!(role));
    memory.insert("session".to_owned(), json!(session));
    whole["fields"]["memory"] = Value::String(Value::Object(memory).to_string());
    Ok(framed(&whole.to_string()))
}

fn parsed(state: &[u8]) -> Result<Value, RigError> {
    let json = state.get(FRAME..).ok_or_else(|| RigError::new("a state shorter than its length field"))?;
    serde_json::from_slice(json).map_err(doing("reading a state"))
}
