//! Pictures of the screen at the moments.

use crate::heard::Heard;
use crate::{Moment, Outcome, at};
use plumbline_measure::{Averaging, View};
use plumbline_screen::Settings;
use plumbline_screen::tokens::ThemeName;
use plumbline_tests::picture::{self, SIZES};
use std::path::{Path, PathBuf};

/// The folder of the pictures.
pub(crate) struct Gallery(PathBuf);

impl Gallery {
    /// Makes the folder, and clears it of an earlier run's pictures.
    pub(crate) fn open(folder: &Path) -> Outcome<Self> {
        if folder.exists() {
            std::fs::remove_dir_all(folder).map_err(at(folder))?;
        }
        std::fs::create_dir_all(folder).map_err(at(folder))?;
        Ok(Self(folder.to_owned()))
    }

    /// Draws the screen at each moment; says how many pictures there are.
    pub(crate) fn hang(&self, moments: &[Moment], heard: &Heard) -> Outcome<usize> {
        let settings = Settings::default();
        for (number, (moment, view)) in moments.iter().zip(&heard.views).enumerate() {
            let name = format!("{:02}_{}.png", number + 1, file_name(&moment.name));
            self.draw(&name, view, &settings)?;
        }
        // The whole programme: averages since its start, from the view that was taken when everything was in.
        let whole = Settings { averaging: Averaging::SinceReset, ..settings };
        self.draw("whole_programme.png", &heard.end, &whole)?;
        self.draw("whole_programme_light.png", &heard.end, &Settings { theme: ThemeName::Light, ..whole })?;
        Ok(moments.len() + 2)
    }

    fn draw(&self, name: &str, view: &View, settings: &Settings) -> Outcome<()> {
        let path = self.0.join(name);
        let picture = picture::render(view, settings, SIZES[0]).map_err(|e| {
            format!("could not draw the screen: {e}; `cargo xtask setup` names what drawing needs")
        })?;
        picture.save(&path).map_err(|e| format!("could not write {}: {e}", path.display()))?;
        Ok(())
    }
}

/// A moment's name as a file name: small letters, digits and underscores.
fn file_name(name: &str) -> String {
    name.chars().map(|c| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '_' }).collect()
}
