//! Finds circular imports between the files of one crate in the syntax of its sources.
//!
//! A file imports another when a `use` in it, or a path in its code, resolves to an item or a module that the other
//! defines. Re-exports are followed to the file that defines the name; a re-export alone and a `mod` declaration are
//! not imports. Test code is ignored. Names are resolved without namespaces and without the shadowing of local
//! variables.

use proc_macro2::{Delimiter, TokenStream, TokenTree};
use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::fmt;
use syn::visit::{self, Visit};
use syn::{Attribute, Item, UseTree, Visibility};

/// The sources of a crate by their path under `src`, separated by `/`.
pub(crate) type Sources = BTreeMap<String, String>;

/// For each file the files that it imports, with the names.
pub(crate) type Imports = BTreeMap<String, BTreeMap<String, BTreeSet<String>>>;

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

/// Which file of a crate imports which.
pub(crate) fn imports(sources: &Sources) -> Imports {
    let mut imports = Imports::new();
    for root in ["lib.rs", "main.rs"].into_iter().filter(|root| sources.contains_key(*root)) {
        let mut tree = Tree { sources, modules: Vec::new() };
        let mut parsed = Vec::new();
        tree.add_file(root, None, &mut parsed);
        for (module, file) in &parsed {
            let mut walk = Walk { tree: &tree, module: *module, imports: &mut imports };
            walk.items(&file.items);
        }
    }
    imports
}

/// The meaning of a name in a module.
enum Name {
    Item,
    Module(usize),
    /// The path of a `use`.
    Used(Vec<String>),
}

/// A module, in its own file or inline.
struct Module {
    file: String,
    /// The folder of the files of its child modules: empty, or with a `/` at its end.
    folder: String,
    parent: Option<usize>,
    names: BTreeMap<String, Vec<Name>>,
    children: BTreeMap<String, usize>,
    /// Paths of `use …::*`.
    globs: Vec<Vec<String>>,
}

/// All modules of a crate; the first is its root.
struct Tree<'a> {
    sources: &'a Sources,
    modules: Vec<Module>,
}

/// What a path resolves to.
#[derive(Clone, PartialEq, Eq, Hash)]
enum Target {
    Module(usize),
    /// An item: the file that defines it, and its name.
    Item(String, String),
}

impl Tree<'_> {
    fn add_file(&mut self, file: &str, parent: Option<usize>, parsed: &mut Vec<(usize, syn::File)>) -> usize {
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
        // A `use` inside a function counts as one of its module.
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

    /// What a path resolves to in a module: nothing for other crates, several targets if a name has several meanings.
    fn resolve(&self, module: usize, path: &[String]) -> Vec<Target> {
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
            // A name that resolves to itself, as in `mod a; use a::a;`: the module is left.
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

/// One leaf of a `use`.
struct Used {
    path: Vec<String>,
    /// Its local name; `None` for `*`.
    name: Option<String>,
}

fn uses(tree: &UseTree) -> Vec<Used> {
    fn add(tree: &UseTree, mut path: Vec<String>, out: &mut Vec<Used>) {
        match tree {
            UseTree::Path(part) => {
                path.push(part.ident.to_string());
                add(&part.tree, path, out);
            }
            UseTree::Name(part) => {
                if part.ident != "self" {
                    path.push(part.ident.to_string());
                }
                out.push(Used { name: path.last().cloned(), path });
            }
            UseTree::Rename(part) => {
                if part.ident != "self" {
                    path.push(part.ident.to_string());
                }
                out.push(Used { name: Some(part.rename.to_string()), path });
            }
            UseTree::Glob(_) => out.push(Used { name: None, path }),
            UseTree::Group(group) => group.items.iter().for_each(|tree| add(tree, path.clone(), out)),
        }
    }
    let mut out = Vec::new();
    add(tree, Vec::new(), &mut out);
    out
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

/// Records the imports of one module's code.
struct Walk<'a, 'b> {
    tree: &'a Tree<'a>,
    module: usize,
    imports: &'b mut Imports,
}

impl Walk<'_, '_> {
    fn items(&mut self, items: &[Item]) {
        let file = &self.tree.modules[self.module].file;
        self.imports.entry(file.clone()).or_default();
        for item in items {
            self.visit_item(item);
        }
    }

    fn imported(&mut self, targets: &[Target], used: &str) {
        let from = &self.tree.modules[self.module].file;
        for target in targets {
            let (to, name) = match target {
                Target::Module(module) => (&self.tree.modules[*module].file, used),
                Target::Item(file, name) => (file, name.as_str()),
            };
            if to != from {
                let imported = self.imports.entry(from.clone()).or_default();
                imported.entry(to.clone()).or_default().insert(name.to_owned());
            }
        }
    }

    /// A path in code, which names an item, because a module is neither a value nor a type.
    fn path(&mut self, path: &[String]) {
        let mut targets = self.tree.resolve(self.module, path);
        targets.retain(|target| matches!(target, Target::Item(..)));
        self.imported(&targets, path.last().map_or("", String::as_str));
    }

    fn tokens(&mut self, tokens: TokenStream) {
        let tokens: Vec<TokenTree> = tokens.into_iter().collect();
        let mut path: Vec<String> = Vec::new();
        for (at, token) in tokens.iter().enumerate() {
            let is = |at: usize, mark: char| matches!(tokens.get(at), Some(TokenTree::Punct(p)) if p.as_char() == mark);
            match token {
                TokenTree::Ident(ident) => {
                    let goes_on = at >= 2 && is(at - 1, ':') && is(at - 2, ':');
                    let member = at >= 1 && is(at - 1, '.') && !(at >= 2 && is(at - 2, '.'));
                    if !goes_on {
                        path.clear();
                    }
                    if member {
                        continue;
                    }
                    path.push(ident.to_string());
                    if !(is(at + 1, ':') && is(at + 2, ':')) {
                        self.path(&path);
                    }
                }
                TokenTree::Group(group) => {
                    if group.delimiter() != Delimiter::None {
                        path.clear();
                    }
                    self.tokens(group.stream());
                }
                _ => {}
            }
        }
    }
}

impl<'ast> Visit<'ast> for Walk<'_, '_> {
    fn visit_item(&mut self, item: &'ast Item) {
        if !is_test(attributes(item)) {
            visit::visit_item(self, item);
        }
    }

    fn visit_item_mod(&mut self, item: &'ast syn::ItemMod) {
        let Some((_, items)) = &item.content else { return };
        let child = self.tree.modules[self.module].children.get(&item.ident.to_string());
        if let Some(child) = child {
            let mut walk = Walk { tree: self.tree, module: *child, imports: &mut *self.imports };
            walk.items(items);
        }
    }

    fn visit_item_use(&mut self, item: &'ast syn::ItemUse) {
        if !matches!(item.vis, Visibility::Inherited) {
            return;
        }
        for used in uses(&item.tree) {
            let targets = self.tree.resolve(self.module, &used.path);
            self.imported(&targets, used.name.as_deref().unwrap_or("*"));
        }
    }

    fn visit_path(&mut self, path: &'ast syn::Path) {
        if path.leading_colon.is_none() {
            let names: Vec<String> = path.segments.iter().map(|segment| segment.ident.to_string()).collect();
            self.path(&names);
        }
        visit::visit_path(self, path);
    }

    fn visit_macro(&mut self, mac: &'ast syn::Macro) {
        self.tokens(mac.tokens.clone());
        visit::visit_macro(self, mac);
    }

    fn visit_impl_item_fn(&mut self, item: &'ast syn::ImplItemFn) {
        if !is_test(&item.attrs) {
            visit::visit_impl_item_fn(self, item);
        }
    }

    fn visit_field(&mut self, field: &'ast syn::Field) {
        if !is_test(&field.attrs) {
            visit::visit_field(self, field);
        }
    }

    fn visit_local(&mut self, local: &'ast syn::Local) {
        if !is_test(&local.attrs) {
            visit::visit_local(self, local);
        }
    }

    // `pub(super)` names a module and imports nothing.
    fn visit_visibility(&mut self, _: &'ast Visibility) {}

    fn visit_attribute(&mut self, _: &'ast Attribute) {}
}

/// The names that an item defines in its module.
fn defined(item: &Item) -> Vec<String> {
    let ident = match item {
        Item::Const(item) => &item.ident,
        Item::Enum(item) => &item.ident,
        Item::Fn(item) => &item.sig.ident,
        Item::Static(item) => &item.ident,
        Item::Struct(item) => &item.ident,
        Item::Trait(item) => &item.ident,
        Item::TraitAlias(item) => &item.ident,
        Item::Type(item) => &item.ident,
        Item::Union(item) => &item.ident,
        Item::Macro(item) => return item.ident.iter().map(ToString::to_string).collect(),
        _ => return Vec::new(),
    };
    vec![ident.to_string()]
}

fn attributes(item: &Item) -> &[Attribute] {
    match item {
        Item::Const(item) => &item.attrs,
        Item::Enum(item) => &item.attrs,
        Item::Fn(item) => &item.attrs,
        Item::Impl(item) => &item.attrs,
        Item::Macro(item) => &item.attrs,
        Item::Mod(item) => &item.attrs,
        Item::Static(item) => &item.attrs,
        Item::Struct(item) => &item.attrs,
        Item::Trait(item) => &item.attrs,
        Item::Type(item) => &item.attrs,
        Item::Union(item) => &item.attrs,
        Item::Use(item) => &item.attrs,
        _ => &[],
    }
}

/// Whether something is compiled for tests only: `cfg(test)` or `cfg(all(test, …))`.
fn is_test(attributes: &[Attribute]) -> bool {
    fn words(tokens: TokenStream) -> Vec<String> {
        tokens
            .into_iter()
            .flat_map(|token| match token {
                TokenTree::Ident(ident) => vec![ident.to_string()],
                TokenTree::Group(group) => words(group.stream()),
                _ => Vec::new(),
            })
            .collect()
    }
    attributes.iter().any(|attribute| {
        let syn::Meta::List(list) = &attribute.meta else { return attribute.path().is_ident("test") };
        let words = words(list.tokens.clone());
        let has = |word: &str| words.iter().any(|w| w == word);
        list.path.is_ident("cfg") && has("test") && !has("not") && !has("any")
    })
}
