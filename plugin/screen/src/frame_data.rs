//! The data that every block of a frame may read.

use crate::layout::ScreenLayout;
use crate::tokens::{Ink, Theme};
use plumbline_programme::{Role, View};

/// The data of the layer besides its measurement.
#[derive(Clone, Debug)]
pub struct Info<'a> {
    /// Name of the layer; may be empty.
    pub name: &'a str,
    /// Role of the layer.
    pub role: Role,
    /// The host's track colour.
    pub colour: Option<[u8; 3]>,
    /// Letter of the session, A to H.
    pub session: char,
    /// Whether the picture is held.
    pub held: bool,
    /// Blocks since reset that passed unmeasured because the host broke the rules of its format.
    pub unfit_blocks: u64,
    /// The result of the last export.
    pub exported: Option<&'a Exported>,
}

/// The result of an export.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Exported {
    /// Whether it failed; `words` then says what was written, if anything.
    pub failed: bool,
    /// What was written and where, or why not and what to do.
    pub words: String,
}

/// The data that all blocks of a frame share.
pub(crate) struct Scene<'a> {
    pub(crate) view: &'a View,
    pub(crate) info: &'a Info<'a>,
    pub(crate) layout: ScreenLayout,
    pub(crate) theme: &'static Theme,
    /// Whether layers use the host's track colours instead of those of their roles.
    pub(crate) track_colours: bool,
}

impl Scene<'_> {
    /// The colour of a layer.
    pub(crate) fn layer_ink(&self, colour: Option<[u8; 3]>, role: Role) -> Ink {
        match colour {
            Some(colour) if self.track_colours => self.theme.given(colour),
            _ => self.theme.role(role),
        }
    }
}
