//! Colours are defined in one file, and text is readable on its background.

use plumbline_screen::Role;
use plumbline_screen::tokens::{Ink, ThemeName};
use std::fs;
use std::path::{Path, PathBuf};

/// WCAG 2.2, definition of relative luminance.
fn luminance(colour: Ink) -> f64 {
    let channel = |value: u8| {
        let v = f64::from(value) / 255.0;
        if v <= 0.040_45 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
    };
    0.212_6 * channel(colour.r()) + 0.715_2 * channel(colour.g()) + 0.072_2 * channel(colour.b())
}

/// WCAG 2.2, definition of contrast ratio.
fn contrast(a: Ink, b: Ink) -> f64 {
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

#[test]
fn the_formula_gives_the_published_ends() {
    let theme = ThemeName::Light.theme();
    let (black, white) = (theme.given([0; 3]), theme.given([255; 3]));
    // WCAG 2.2: contrast ratios range from 1 to 21.
    assert!((contrast(black, white) - 21.0).abs() < 1e-9);
    assert!((contrast(white, white) - 1.0).abs() < 1e-9);
}

/// WCAG 2.2 success criterion 1.4.3 (AA): at least 4.5 to 1 for text.
#[test]
fn every_text_stands_out_from_its_background() {
    let mut ran = 0;
    for name in ThemeName::ALL {
        for (pair, text, ground) in name.theme().text_pairs() {
            let ratio = contrast(text, ground);
            assert!(ratio >= 4.5, "{} theme, {pair}: {ratio:.2}", name.name());
            ran += 1;
        }
    }
    assert!(ran >= 30, "only {ran} pairs");
}

/// WCAG 2.2 success criterion 1.4.11: at least 3 to 1 for anything needed to understand a picture.
#[test]
fn every_trace_and_fault_stands_out_from_the_plot() {
    for name in ThemeName::ALL {
        let theme = name.theme();
        let marks = [
            ("trace", theme.trace),
            ("bar", theme.bar),
            ("peak hold", theme.trace_hold),
            ("reference", theme.trace_reference),
            ("coherence", theme.coherence),
            ("cursor", theme.plumb),
            ("fault", theme.fault),
            ("scope", theme.scope),
        ];
        for (mark, ink) in marks {
            let ratio = contrast(ink, theme.plot);
            assert!(ratio >= 3.0, "{} theme, {mark}: {ratio:.2}", name.name());
        }
    }
}

/// Okabe and Ito, "Color Universal Design" (2008), the values as printed there.
#[test]
fn roles_wear_the_published_palette() {
    let published = [
        (Role::Natural, [86, 180, 233]),
        (Role::Foley, [0, 158, 115]),
        (Role::Design, [230, 159, 0]),
        (Role::Voice, [204, 121, 167]),
        (Role::Music, [0, 114, 178]),
    ];
    for name in ThemeName::ALL {
        for (role, rgb) in published {
            assert_eq!(name.theme().role(role), name.theme().given(rgb), "{role:?}");
        }
    }
}

#[test]
fn only_the_tokens_name_a_colour() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../plugin/screen/src");
    let mut files = Vec::new();
    collect(&root, &mut files);
    assert!(files.len() >= 20, "only {} files found", files.len());
    for file in files {
        if file.ends_with("tokens.rs") {
            continue;
        }
        let text = fs::read_to_string(&file).expect("a source file can be read");
        for named in ["Color32", "Rgba", "from_rgb", "from_gray", "hex_color"] {
            assert!(!text.contains(named), "{} names a colour: {named}", file.display());
        }
    }
}

fn collect(folder: &Path, files: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("the screen's sources are beside the tests") {
        let path = entry.expect("an entry of a folder").path();
        if path.is_dir() {
            collect(&path, files);
        } else if path.extension().is_some_and(|e| e == "rs") {
            files.push(path);
        }
    }
}
