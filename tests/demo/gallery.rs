//! Pictures of the screen at the chosen moments.

use crate::heard::Heard;
use crate::{Moment, Outcome, at};
use egui::Key;
use plumbline_measure::Averaging;
use plumbline_programme::{Stretch, View};
use plumbline_screen::tokens::ThemeName;
use plumbline_screen::{Page, Settings};
use plumbline_tests::picture::{self, SIZES};
use std::path::{Path, PathBuf};

/// The keys of the pages, in their order.
const PAGE_KEYS: [Key; 5] = [Key::Num1, Key::Num2, Key::Num3, Key::Num4, Key::Num5];

/// The folder of the pictures.
pub(crate) struct Gallery(PathBuf);

impl Gallery {
    /// Makes the folder, and removes the pictures of an earlier run.
    pub(crate) fn open(folder: &Path) -> Outcome<Self> {
        if folder.exists() {
            std::fs::remove_dir_all(folder).map_err(at(folder))?;
        }
        std::fs::create_dir_all(folder).map_err(at(folder))?;
        Ok(Self(folder.to_owned()))
    }

    /// Draws the screen at each moment, and returns the number of pictures.
    pub(crate) fn hang(&self, moments: &[Moment], heard: &Heard) -> Outcome<usize> {
        let settings = Settings::default();
        for (number, (moment, view)) in moments.iter().zip(&heard.views).enumerate() {
            self.draw(&format!("{:02}_{}", number + 1, file_name(&moment.name)), view, &settings)?;
        }
        // The whole programme since its start, from the view at the end.
        let whole =
            Settings { averaging: Averaging::SinceReset, stretch: Stretch::Programme, ..Settings::default() };
        self.draw("whole_programme", &heard.end, &whole)?;
        self.draw("whole_programme_light", &heard.end, &Settings { theme: ThemeName::Light, ..whole })?;
        Ok((moments.len() + 2) * Page::ALL.len())
    }

    /// Draws every page; the file names of all but the first contain the page's name.
    fn draw(&self, name: &str, view: &View, settings: &Settings) -> Outcome<()> {
        let mut window = picture::window(view, settings, SIZES[0]);
        for (page, key) in Page::ALL.into_iter().zip(PAGE_KEYS) {
            window.key_press(key);
            window.run();
            let picture = window.render().map_err(|e| {
                format!("could not draw the screen: {e}; `cargo xtask setup` installs what drawing needs")
            })?;
            let file = match page {
                Page::Bus => format!("{name}.png"),
                other => format!("{name}_{}.png", file_name(other.name())),
            };
            let path = self.0.join(file);
            picture.save(&path).map_err(|e| format!("could not write {}: {e}", path.display()))?;
        }
        Ok(())
    }
}

/// A moment's name as a file name: small letters, digits and underscores.
fn file_name(name: &str) -> String {
    name.chars().map(|c| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '_' }).collect()
}
