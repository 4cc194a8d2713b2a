//! Display names of layers, and their sort order.

use std::collections::BTreeMap;

/// Unique display names, from the session number and own name of each layer. A number of 0 means none yet.
///
/// # Definition
/// A layer without a name is "Layer 2", by its number; "Unnamed layer" before it has one. Layers with the same name
/// get their number appended, "Boom (2)". The number belongs to the layer for life, so a name never passes to another
/// layer when one leaves. Layers with different numbers never share a name.
pub fn told_apart(layers: impl Iterator<Item = (u32, String)>) -> Vec<String> {
    let (numbers, mut names): (Vec<u32>, Vec<String>) = layers
        .map(|(number, name)| match (name.trim(), number) {
            ("", 0) => (number, "Unnamed layer".to_owned()),
            ("", _) => (number, format!("Layer {number}")),
            (name, _) => (number, name.to_owned()),
        })
        .unzip();
    // An appended number may produce a name that another layer already has; a few rounds resolve that.
    for _ in 0..MOST_ROUNDS {
        let mut count: BTreeMap<&str, u32> = BTreeMap::new();
        names.iter().for_each(|name| *count.entry(name).or_default() += 1);
        let shared: Vec<bool> =
            names.iter().map(|name| count.get(name.as_str()).is_some_and(|n| *n > 1)).collect();
        let mut changed = false;
        for ((name, shared), number) in names.iter_mut().zip(shared).zip(&numbers) {
            if shared && *number > 0 {
                *name = format!("{name} ({number})");
                changed = true;
            }
        }
        if !changed {
            break;
        }
    }
    names
}

/// Most rounds of appending numbers: each appends one to names that are still equal.
const MOST_ROUNDS: usize = 4;

/// A sort key for a name that orders numbers in it by size: "Layer 2" before "Layer 10".
pub fn order_key(name: &str) -> String {
    let mut key = String::with_capacity(name.len() + 16);
    let mut digits = String::new();
    for letter in name.chars().chain(std::iter::once('\0')) {
        if letter.is_ascii_digit() {
            digits.push(letter);
            continue;
        }
        if !digits.is_empty() {
            // As wide as the longest number in a name of 64 bytes.
            key.push_str(&format!("{digits:0>64}"));
            digits.clear();
        }
        key.push(letter);
    }
    key
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(layers: &[(u32, &str)]) -> Vec<String> {
        told_apart(layers.iter().map(|(number, name)| (*number, (*name).to_owned())))
    }

    #[test]
    fn nameless_and_alike_layers_are_told_apart_by_their_numbers() {
        assert_eq!(
            told(&[(1, "Boom"), (2, ""), (3, " "), (4, "Lav")]),
            ["Boom", "Layer 2", "Layer 3", "Lav"]
        );
        assert_eq!(told(&[(2, "Boom"), (5, "Boom "), (6, "boom")]), ["Boom (2)", "Boom (5)", "boom"]);
        // A layer whose own name is the default name of another.
        assert_eq!(told(&[(2, ""), (7, "Layer 2")]), ["Layer 2 (2)", "Layer 2 (7)"]);
        let names = told(&[(1, "Boom"), (2, "Boom"), (3, "Boom (2)")]);
        assert_eq!(names, ["Boom (1)", "Boom (2) (2)", "Boom (2) (3)"]);
        assert_eq!(
            told(&[(0, ""), (0, ""), (0, "Boom"), (3, "Boom")]),
            ["Unnamed layer", "Unnamed layer", "Boom", "Boom (3)"]
        );
    }

    #[test]
    fn numbers_in_names_are_sorted_by_their_size() {
        let mut names = ["Layer 10", "Boom", "Layer 2", "Layer 1", "Layer", "2 steps", "10 steps"];
        names.sort_by_key(|name| order_key(name));
        assert_eq!(names, ["2 steps", "10 steps", "Boom", "Layer", "Layer 1", "Layer 2", "Layer 10"]);
    }

    #[test]
    fn no_two_layers_with_numbers_have_one_name() {
        let pool = ["", "Boom", "Boom (2)", "Boom (2) (2)", "Layer 3", "Layer 3 (3)", "Lav", "é"];
        let mut state = 0x9108_u64;
        for count in 1..=64_u32 {
            for _ in 0..20 {
                let layers = (1..=count).map(|number| {
                    state =
                        state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                    (number, pool[usize::try_from(state >> 61).expect("three bits")].to_owned())
                });
                let names = told_apart(layers);
                let apart: std::collections::BTreeSet<&String> = names.iter().collect();
                assert_eq!(apart.len(), names.len(), "{names:?}");
            }
        }
    }
}
