//! The declarations of a single item: the names it defines, the paths it uses, and whether it is test code.

use proc_macro2::{TokenStream, TokenTree};
use syn::{Attribute, Item, UseTree};

/// One leaf of a `use`.
pub(crate) struct Used {
    pub(crate) path: Vec<String>,
    /// Its local name; `None` for `*`.
    pub(crate) name: Option<String>,
}

pub(crate) fn uses(tree: &UseTree) -> Vec<Used> {
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

/// The names that an item defines in its module.
pub(crate) fn defined(item: &Item) -> Vec<String> {
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

pub(crate) fn attributes(item: &Item) -> &[Attribute] {
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
pub(crate) fn is_test(attributes: &[Attribute]) -> bool {
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
