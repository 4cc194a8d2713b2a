//! No files of one crate import each other in a circle; also tests the finder of circles, on small sources.

use super::circles::circles;
use super::imports::{Sources, imports};
use super::{ARROWS, sources, top};

fn crate_sources(folder: &str) -> Sources {
    let src = top().join(folder).join("src");
    let read = |path: &std::path::PathBuf| {
        let inside = path.strip_prefix(&src).expect("under src");
        let parts: Vec<_> = inside.iter().map(|part| part.to_string_lossy()).collect();
        (parts.join("/"), std::fs::read_to_string(path).expect("our own source"))
    };
    sources(&src).iter().map(read).collect()
}

#[test]
fn no_files_of_a_crate_import_each_other_in_a_circle() {
    let (mut files, mut wrong) = (0, String::new());
    for (folder, _) in ARROWS {
        let sources = crate_sources(folder);
        files += imports(&sources).len();
        circles(&sources).iter().for_each(|circle| wrong += &format!("{folder}, {circle}"));
    }
    assert!(files > 250, "only {files} files were read");
    assert!(wrong.is_empty(), "\n{wrong}");
}

/// The circles of made-up sources, each as the names of its files.
fn found(files: &[(&str, &str)]) -> Vec<Vec<String>> {
    let sources = files.iter().map(|(path, text)| ((*path).to_owned(), (*text).to_owned())).collect();
    circles(&sources).into_iter().map(|circle| circle.files.into_iter().collect()).collect()
}

#[test]
fn two_files_that_use_each_other_are_a_circle() {
    let tower = ("tower.rs", "use crate::bell::Bell; pub struct Tower(Bell);");
    for back in [
        "use crate::tower::Tower; pub struct Bell(Tower);",
        "use super::tower::{self, Tower as T}; pub struct Bell;",
        "use crate::*; pub struct Bell(tower::Tower);",
        "pub struct Bell; pub fn ring(tower: &crate::tower::Tower) {}",
        "pub struct Bell; pub fn ring() { use crate::tower; }",
        "pub struct Bell; pub fn ring() { let _ = matches!(1, crate::tower::Tower::HEIGHT); }",
        "pub struct Bell; mod rope { use super::super::tower::Tower; }",
    ] {
        let circles = found(&[("lib.rs", "mod bell; mod tower;"), tower, ("bell.rs", back)]);
        assert_eq!(circles, [["bell.rs", "tower.rs"]], "{back}");
    }
}

#[test]
fn a_parent_and_its_child_can_be_a_circle() {
    let parent = "mod rope; use rope::Rope; pub struct Bell(Rope); pub const HEIGHT: u32 = 3;";
    let child = "pub struct Rope; const LENGTH: u32 = super::HEIGHT;";
    let lib = ("lib.rs", "mod bell;");
    assert_eq!(found(&[lib, ("bell.rs", parent), ("bell/rope.rs", child)]), [["bell.rs", "bell/rope.rs"]]);
    // Through a re-export that the parent uses too.
    let parent = "mod rope; pub use rope::Rope; pub struct Bell(Rope); pub const HEIGHT: u32 = 3;";
    assert_eq!(found(&[lib, ("bell.rs", parent), ("bell/rope.rs", child)]), [["bell.rs", "bell/rope.rs"]]);
}

#[test]
fn a_circle_of_three_names_its_ties() {
    let files = [
        ("main.rs", "mod a; mod b; mod c; mod d;"),
        ("a.rs", "use crate::b::B; pub struct A;"),
        ("b.rs", "use crate::c::C; pub struct B;"),
        ("c.rs", "use crate::{a::A, d::D}; pub struct C;"),
        ("d.rs", "pub struct D;"),
    ];
    let sources = files.iter().map(|(path, text)| ((*path).to_owned(), (*text).to_owned())).collect();
    let circles = circles(&sources);
    assert_eq!(circles.len(), 1);
    assert_eq!(
        circles[0].to_string(),
        "circle of 3 files\n  a.rs -> b.rs: B\n  b.rs -> c.rs: C\n  c.rs -> a.rs: A\n"
    );
}

#[test]
fn a_re_export_is_followed_and_is_no_import_itself() {
    let lib = ("lib.rs", "mod bell; pub use bell::{Bell, Rope};");
    let parent = ("bell.rs", "mod bronze; mod rope; pub use {bronze::Bell, rope::*};");
    let rope = ("bell/rope.rs", "pub struct Rope;");
    // Both names of the parent resolve to files that do not import it.
    let bronze = ("bell/bronze.rs", "use super::Rope; use crate::Rope as R; pub struct Bell(Rope);");
    assert_eq!(found(&[lib, parent, rope, bronze]), [[""; 0]; 0]);
    let rope = ("bell/rope.rs", "use crate::Bell; pub struct Rope(Bell);");
    assert_eq!(found(&[lib, parent, rope, bronze]), [["bell/bronze.rs", "bell/rope.rs"]]);
}

#[test]
fn no_circle_where_imports_go_one_way_or_only_tests_come_back() {
    let tower = ("tower.rs", "use crate::bell::Bell; pub struct Tower(Bell); pub mod bell {}");
    for bell in [
        "pub struct Bell; pub(super) fn ring(tower: u32) -> u32 { tower }",
        "pub struct Bell; #[cfg(test)] mod tests { use crate::tower::Tower; }",
        "pub struct Bell; #[cfg(test)] mod tests;",
        "pub struct Bell; #[cfg(all(test, unix))] use crate::tower::Tower;",
        "pub struct Bell; impl Bell { #[cfg(test)] fn hung() -> crate::tower::Tower {} }",
        "use std::tower::Tower; use ::tower::Bell as B; pub struct Bell;",
        "/// See [`crate::tower::Tower`].\npub struct Bell;",
    ] {
        let circles = found(&[("lib.rs", "mod bell; mod tower;"), tower, ("bell.rs", bell)]);
        assert_eq!(circles, [[""; 0]; 0], "{bell}");
    }
}
