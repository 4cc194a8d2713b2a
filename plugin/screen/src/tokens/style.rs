//! The tokens as egui's own style, for the widgets that egui paints.

use super::{Ink, Theme, ThemeName, size, space, stroke};
use egui::{CornerRadius, FontFamily, FontId, Stroke, TextStyle, Vec2, Visuals, vec2};

impl ThemeName {
    /// Applies the theme to a context, once; returns whether this call did.
    pub fn apply(self, ctx: &egui::Context) -> bool {
        let id = egui::Id::unique("plumbline theme");
        if ctx.data(|data| data.get_temp::<Self>(id)) == Some(self) {
            return false;
        }
        let theme = self.theme();
        let kind = if theme.dark { egui::Theme::Dark } else { egui::Theme::Light };
        ctx.set_theme(kind);
        ctx.style_mut_of(kind, |style| theme.restyle(style));
        // The scale is one of our own settings, with its own keys and limits.
        ctx.options_mut(|options| options.zoom_with_keyboard = false);
        ctx.data_mut(|data| data.insert_temp(id, self));
        true
    }
}

impl Theme {
    /// Writes the tokens into a style.
    pub(crate) fn restyle(&self, style: &mut egui::Style) {
        let font = |size: f32| FontId::new(size, FontFamily::Proportional);
        style.text_styles.insert(TextStyle::Small, font(size::SMALL));
        style.text_styles.insert(TextStyle::Body, font(size::BODY));
        style.text_styles.insert(TextStyle::Button, font(size::SMALL));
        style.text_styles.insert(TextStyle::Heading, font(size::HEAD));
        style.drag_value_text_style = TextStyle::Button;
        style.spacing.item_spacing = Vec2::splat(space::NEAR);
        style.spacing.button_padding = vec2(space::INSET - 1.0, 2.0);
        style.spacing.interact_size.y = space::BUTTON;
        style.spacing.tooltip_width = 320.0;
        style.interaction.selectable_labels = false;
        style.interaction.tooltip_delay = 0.4;
        style.animation_time = 0.0;
        style.visuals = self.visuals();
    }

    fn visuals(&self) -> Visuals {
        let mut visuals = if self.dark { Visuals::dark() } else { Visuals::light() };
        visuals.panel_fill = self.page;
        visuals.window_fill = self.panel;
        visuals.window_stroke = Stroke::new(stroke::HAIR, self.grid_strong);
        visuals.window_corner_radius = CornerRadius::same(4);
        visuals.menu_corner_radius = CornerRadius::same(4);
        visuals.extreme_bg_color = self.plot;
        visuals.faint_bg_color = self.plot;
        visuals.weak_text_color = Some(self.muted);
        visuals.error_fg_color = self.fault_text;
        visuals.warn_fg_color = self.fault_text;
        visuals.hyperlink_color = self.text;
        visuals.selection.bg_fill = self.chosen;
        visuals.selection.stroke = Stroke::new(stroke::HAIR, self.on_chosen);
        let widgets = &mut visuals.widgets;
        for (state, fill, line) in [
            (&mut widgets.noninteractive, self.panel, self.grid_strong),
            (&mut widgets.inactive, self.button, self.button),
            (&mut widgets.hovered, self.button_hover, self.grid_strong),
            (&mut widgets.active, self.button_hover, self.plumb),
            (&mut widgets.open, self.button_hover, self.grid_strong),
        ] {
            set(state, fill, line, self.text);
        }
        visuals
    }
}

fn set(state: &mut egui::style::WidgetVisuals, fill: Ink, line: Ink, text: Ink) {
    state.bg_fill = fill;
    state.weak_bg_fill = fill;
    state.bg_stroke = Stroke::new(stroke::HAIR, line);
    state.fg_stroke = Stroke::new(stroke::HAIR, text);
    state.corner_radius = CornerRadius::same(3);
    state.expansion = 0.0;
}
