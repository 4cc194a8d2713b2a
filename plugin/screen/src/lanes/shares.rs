//! The lane of layer shares: each third parted by role, from Natural at the foot upwards.

use super::Ground;
use super::spectrum::Mark;
use crate::company;
use crate::parts::sane;
use egui::Rect;
use plumbline_measure::bands::THIRDS;

impl Ground<'_> {
    pub(super) fn shares(&self) {
        let (theme, session) = (self.pen.theme, &*self.scene.view.session);
        let stretch = self.settings.stretch.place();
        let roles: Vec<_> = company::roles(session).collect();
        for third in 0..THIRDS {
            let column = self.column(third);
            if !column.is_positive() {
                continue;
            }
            let mut from = 0.0;
            let mut any = false;
            for (at, role) in &roles {
                let Some(share) = sane(session.roles[*at].parts[stretch].thirds[third].get()) else {
                    continue;
                };
                any = true;
                let (bottom, top) = (self.values.y(from), self.values.y(from + share));
                from += share;
                if bottom - top < 0.25 {
                    continue;
                }
                // A hair of paper between two roles: their colours need not be told apart to see the border.
                let gap = if bottom - top > 2.0 { 0.75 } else { 0.0 };
                self.pen.fill(Rect::from_x_y_ranges(column.x_range(), top + gap..=bottom), theme.role(*role));
            }
            if !any {
                self.no_reading(column, self.plot.bottom());
            }
        }
    }

    /// Roles from the top of the stack downwards, as they lie in the lane.
    pub(super) fn shares_legend(&self) -> Vec<(Mark, String)> {
        let theme = self.pen.theme;
        let roles = company::roles(&self.scene.view.session);
        let mut entries: Vec<(Mark, String)> =
            roles.map(|(_, role)| (Mark::Role(role, theme.role(role)), role.name().to_owned())).collect();
        entries.reverse();
        entries
    }
}
