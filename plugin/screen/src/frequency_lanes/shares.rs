//! The lane of layer shares: each third as a stack of roles, Natural at the bottom.

use super::lane::LanePainter;
use super::legend::Mark;
use crate::role_marks::drawable;
use egui::Rect;
use plumbline_measure::bands::THIRDS;

impl LanePainter<'_> {
    pub(super) fn shares(&self) {
        let (theme, session) = (self.painter.theme, &*self.scene.view.session);
        let stretch = self.settings.stretch.place();
        let roles: Vec<_> = session.roles_present().collect();
        for third in 0..THIRDS {
            let column = self.column(third);
            if !column.is_positive() {
                continue;
            }
            let mut from = 0.0;
            let mut any = false;
            for (at, role) in &roles {
                let Some(share) = drawable(session.roles[*at].parts[stretch].thirds[third].get()) else {
                    continue;
                };
                any = true;
                let (bottom, top) = (self.values.y(from), self.values.y(from + share));
                from += share;
                if bottom - top < 0.25 {
                    continue;
                }
                // A gap between two roles, so that the border is visible without colour.
                let gap = if bottom - top > 2.0 { 0.75 } else { 0.0 };
                self.painter
                    .fill(Rect::from_x_y_ranges(column.x_range(), top + gap..=bottom), theme.role(*role));
            }
            if !any {
                self.no_reading(column, self.plot.bottom());
            }
        }
    }

    /// The legend: roles by share, the largest first, because a low lane has room only for the first few.
    pub(super) fn shares_legend(&self) -> Vec<(Mark, String)> {
        let theme = self.painter.theme;
        let session = &*self.scene.view.session;
        let stretch = self.settings.stretch.place();
        let mut roles: Vec<_> = session
            .roles_present()
            .map(|(at, role)| (drawable(session.roles[at].parts[stretch].share).unwrap_or(0.0), role))
            .collect();
        roles.sort_by(|a, b| b.0.total_cmp(&a.0));
        let entry = |role| (Mark::Role(role, theme.role(role)), role.name().to_owned());
        roles.into_iter().map(|(_, role)| entry(role)).collect()
    }
}
