//! The modules of a crate, and the meaning of a path in one of them.

use super::syntax::{Used, attributes, defined, is_test, uses};
use std::collections::{BTreeMap, HashSet};
use syn::Item;
use syn::visit::{self, Visit};

/// The meaning of a name in a module.
pub(crate) enum Name {
    Item,
    Module(usize),
    /// The path of a `use`.
    Used(Vec<String>),
}

/// A module, in its own file or inline.
pub(crate) struct Module {
    pub(crate) file: String,
    /// The folder of its child modules' files: empty, or ending in `/`.
    folder: String,
    parent: Option<usize>,
    names: BTreeMap<String, Vec<Name>>,
    pub(crate) children: BTreeMap<String, usize>,
    /// Paths of `use …::*`.
    globs: Vec<Vec<String>>,
}

/// All modules of a crate; the first is its root.
pub(crate) struct Tree<'a> {
    pub(crate) sources: &'a BTreeMap<String, String>,
    pub(crate) modules: Vec<Module>,
}

/// The target of a path.
#[derive(Clone, PartialEq, Eq, Hash)]
pub(crate) enum Target {
    Module(usize),
    /// An item: the file that defines it, and its name.
    Item(String, String),
}

impl Tree<'_> {
    pub(crate) fn add_file(
        &mut self,
        file: &str,
        parent: Option<usize>,
        parsed: &mut Vec<(usize, syn::File)>,
    ) -> usize {
        let syntax = syn::parse_file(&self.sources[file]).unwrap_or_else(|e| panic!("{file}: {e}"));
        let folder = match file.rsplit_once('/') {
            _ if parent.is_none() => String::new(),
            Some((folder, "mod.rs")) => format!("{folder}/"),
            _ => format!("{}/", file.trim_end_matches(".rs")),
        };
        let module = self.add_module(file, folder, parent, &syntax.items, parsed);
        parsed.push((module, syntax));
        module
    }

    fn add_module(
        &mut self,
        file: &str,
        folder: String,
        parent: Option<usize>,
        items: &[Item],
        parsed: &mut Vec<(usize, syn::File)>,
    ) -> usize {
        let id = self.modules.len();
        self.modules.push(Module {
            file: file.to_owned(),
            folder,
            parent,
            names: BTreeMap::new(),
            children: BTreeMap::new(),
            globs: Vec::new(),
        });
        for item in items.iter().filter(|item| !is_test(attributes(item))) {
            match item {
                Item::Mod(item) => {
                    let name = item.ident.to_string();
                    let folder = self.modules[id].folder.clone();
                    let child = if let Some((_, items)) = &item.content {
                        self.add_module(file, format!("{folder}{name}/"), Some(id), items, parsed)
                    } else {
                        let candidates = [format!("{folder}{name}.rs"), format!("{folder}{name}/mod.rs")];
                        let found = candidates.iter().find(|path| self.sources.contains_key(*path));
                        let path = found.unwrap_or_else(|| panic!("{file}: no file of `mod {name}`"));
                        self.add_file(path, Some(id), parsed)
                    };
                    self.modules[id].children.insert(name.clone(), child);
                    self.name(id, name, Name::Module(child));
                }
                Item::Use(item) => {
                    for used in uses(&item.tree) {
                        self.used(id, used);
                    }
                }
                other => {
                    for name in defined(other) {
                        self.name(id, name, Name::Item);
                    }
                }
            }
        }
        // A `use` inside a function counts as a `use` of its module.
        let mut inner = Inner(Vec::new());
        for item in items.iter().filter(|item| !matches!(item, Item::Use(_) | Item::Mod(_))) {
            inner.visit_item(item);
        }
        for used in inner.0 {
            self.used(id, used);
        }
        id
    }

    fn name(&mut self, module: usize, name: String, what: Name) {
        self.modules[module].names.entry(name).or_default().push(what);
    }

    fn used(&mut self, module: usize, used: Used) {
        match used.name {
            Some(name) => self.name(module, name, Name::Used(used.path)),
            None => self.modules[module].globs.push(used.path),
        }
    }

    /// The targets of a path in a module: none in other crates, several if a name has several meanings.
    pub(crate) fn resolve(&self, module: usize, path: &[String]) -> Vec<Target> {
        self.follow(module, path, &mut HashSet::new())
    }

    fn follow(&self, module: usize, path: &[String], seen: &mut HashSet<(usize, String)>) -> Vec<Target> {
        let (mut at, mut rest) = (module, path);
        let mut relative = true;
        while let Some((first, others)) = rest.split_first() {
            match first.as_str() {
                "crate" => at = 0,
                "self" => {}
                "super" => match self.modules[at].parent {
                    Some(parent) => at = parent,
                    None => return Vec::new(),
                },
                _ => break,
            }
            (rest, relative) = (others, false);
        }
        if rest.is_empty() {
            return if relative { Vec::new() } else { vec![Target::Module(at)] };
        }
        let mut targets = vec![Target::Module(at)];
        for name in rest {
            let mut next = Vec::new();
            for target in targets {
                match target {
                    Target::Module(module) => next.extend(self.look_up(module, name, seen)),
                    // A variant or an associated item.
                    item @ Target::Item(..) => next.push(item),
                }
            }
            targets = next;
        }
        targets
    }

    fn look_up(&self, module: usize, name: &str, seen: &mut HashSet<(usize, String)>) -> Vec<Target> {
        if !seen.insert((module, name.to_owned())) {
            // If a name resolves to itself, as in `mod a; use a::a;`, the module remains.
            return self.modules[module]
                .children
                .get(name)
                .map(|child| Target::Module(*child))
                .into_iter()
                .collect();
        }
        let mut found = Vec::new();
        for known in self.modules[module].names.get(name).into_iter().flatten() {
            match known {
                Name::Item => found.push(Target::Item(self.modules[module].file.clone(), name.to_owned())),
                Name::Module(child) => found.push(Target::Module(*child)),
                Name::Used(path) => found.extend(self.follow(module, path, seen)),
            }
        }
        if found.is_empty() {
            for glob in &self.modules[module].globs {
                for target in self.follow(module, glob, seen) {
                    if let Target::Module(from) = target {
                        found.extend(self.look_up(from, name, seen));
                    }
                }
            }
        }
        seen.remove(&(module, name.to_owned()));
        found
    }
}

/// Collects each `use` inside function bodies.
struct Inner(Vec<Used>);

impl<'ast> Visit<'ast> for Inner {
    fn visit_item(&mut self, item: &'ast Item) {
        if !is_test(attributes(item)) {
            visit::visit_item(self, item);
        }
    }

    fn visit_item_use(&mut self, item: &'ast syn::ItemUse) {
        self.0.extend(uses(&item.tree));
    }

    fn visit_impl_item_fn(&mut self, item: &'ast syn::ImplItemFn) {
        if !is_test(&item.attrs) {
            visit::visit_impl_item_fn(self, item);
        }
    }
}
