//! The imports between the files of a crate, from the syntax of its sources.
//!
//! A file imports another when a `use` in it, or a path in its code, resolves to an item or a module that the other
//! defines. Re-exports are followed to the file that defines the name; a re-export alone and a `mod` declaration are
//! not imports. Test code is ignored. Names are resolved without namespaces and without the shadowing of local
//! variables.

use super::modules::{Target, Tree};
use super::syntax::{attributes, is_test, uses};
use proc_macro2::{Delimiter, TokenStream, TokenTree};
use std::collections::{BTreeMap, BTreeSet};
use syn::visit::{self, Visit};
use syn::{Attribute, Item, Visibility};

/// The sources of a crate by path under `src`, separated by `/`.
pub(crate) type Sources = BTreeMap<String, String>;

/// For each file, the files that it imports, with the names.
pub(crate) type Imports = BTreeMap<String, BTreeMap<String, BTreeSet<String>>>;

/// The imports between the files of a crate.
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

    /// Records a path in code, which names an item, because a module is neither a value nor a type.
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
