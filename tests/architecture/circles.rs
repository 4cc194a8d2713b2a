//! Files that import each other in a circle.

use super::imports::{Imports, Sources, imports};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

/// Files that import each other, directly or through one another.
pub(crate) struct Circle {
    pub(crate) files: BTreeSet<String>,
    imports: Imports,
}

impl fmt::Display for Circle {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(out, "circle of {} files", self.files.len())?;
        for (from, imported) in &self.imports {
            for (to, names) in imported {
                let names: Vec<&str> = names.iter().map(String::as_str).collect();
                writeln!(out, "  {from} -> {to}: {}", names.join(", "))?;
            }
        }
        Ok(())
    }
}

/// All circles of a crate.
pub(crate) fn circles(sources: &Sources) -> Vec<Circle> {
    let imports = imports(sources);
    let reached: BTreeMap<&String, BTreeSet<&String>> =
        imports.keys().map(|file| (file, reached(&imports, file))).collect();
    let mut circles: Vec<Circle> = Vec::new();
    for file in imports.keys() {
        if !reached[file].contains(file) || circles.iter().any(|circle| circle.files.contains(file)) {
            continue;
        }
        let files: BTreeSet<String> = reached[file]
            .iter()
            .filter(|other| reached.get(**other).is_some_and(|back| back.contains(file)))
            .map(|other| (*other).clone())
            .collect();
        let inside = |imported: &BTreeMap<String, BTreeSet<String>>| {
            imported
                .iter()
                .filter(|(to, _)| files.contains(*to))
                .map(|(to, names)| (to.clone(), names.clone()))
                .collect()
        };
        let imports = files.iter().map(|from| (from.clone(), inside(&imports[from]))).collect();
        circles.push(Circle { files, imports });
    }
    circles
}

/// All files that one file imports, directly or indirectly.
fn reached<'a>(imports: &'a Imports, from: &String) -> BTreeSet<&'a String> {
    let mut reached = BTreeSet::new();
    let mut open: Vec<&String> = imports.get(from).into_iter().flat_map(BTreeMap::keys).collect();
    while let Some(file) = open.pop() {
        if reached.insert(file) {
            open.extend(imports.get(file).into_iter().flat_map(BTreeMap::keys));
        }
    }
    reached
}
