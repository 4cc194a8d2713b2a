//! The layers of a session as named and listed on the screen.

use egui::{ComboBox, Ui};
use plumbline_programme::session::LayerLine;
use plumbline_programme::{LayerId, Session};

/// Whether there is something to compare: a layer other than this one, and a layer with a share.
pub(crate) fn has_layers(session: &Session) -> bool {
    others(session) > 0 && session.parts().next().is_some()
}

/// The number of layers heard besides this one.
pub(crate) fn others(session: &Session) -> u32 {
    u32::try_from(session.layers.iter().filter(|line| !line.own).count()).unwrap_or(u32::MAX)
}

/// Whether there are other layers and all are mixes, as before roles are set.
pub(crate) fn only_mixes(session: &Session) -> bool {
    others(session) > 0 && session.parts().next().is_none()
}

/// The name to show for a layer.
pub(crate) fn name(line: &LayerLine) -> &str {
    shown_name(&line.identity.name)
}

/// The name to show for a text that may be empty.
pub(crate) fn shown_name(name: &str) -> &str {
    let name = name.trim();
    if name.is_empty() { "Unnamed layer" } else { name }
}

/// The name of this layer as others see it, so that it is the same in every window. Until a change reaches them, it is
/// `given`, the name from the user or the host.
pub(crate) fn own_name<'a>(given: &'a str, session: &'a Session) -> &'a str {
    let given = given.trim();
    let told_apart = |own: &&str| {
        let suffix = own.strip_prefix(given);
        given.is_empty() || suffix.is_some_and(|suffix| suffix.is_empty() || suffix.starts_with(" ("))
    };
    let own = session.own().map(name);
    own.filter(told_apart).unwrap_or(shown_name(given))
}

/// Name of a layer by its number.
pub(crate) fn name_of(session: &Session, id: LayerId) -> &str {
    session.layer(id).map_or("a layer that left", name)
}

/// A list of layers to choose from, with a placeholder if none is chosen; returns a new choice.
pub(crate) fn layer_combo<'a>(
    ui: &mut Ui,
    session: &Session,
    lines: impl Iterator<Item = &'a LayerLine>,
    name: &str,
    (none, chosen): (&str, Option<LayerId>),
    width: f32,
) -> Option<LayerId> {
    let mut picked = None;
    let cut = |name: &str| name.chars().take(64).collect::<String>();
    let shown = cut(chosen.map_or(none, |id| name_of(session, id)));
    let combo = ComboBox::from_id_salt(name).selected_text(shown).width(width).truncate();
    let combo = combo.show_ui(ui, |ui| {
        for (index, line) in lines.enumerate() {
            ui.push_id(index, |ui| {
                if ui.selectable_label(chosen == Some(line.id), cut(self::name(line))).clicked() {
                    picked = Some(line.id);
                }
            });
        }
    });
    combo.response.on_hover_text(name).accessible_name(name);
    picked
}

#[cfg(test)]
mod tests {
    use super::*;
    use plumbline_programme::{Identity, Role};

    fn line(id: u64, role: Role) -> LayerLine {
        LayerLine {
            id: LayerId(id),
            identity: Identity { role, ..Identity::default() },
            own: id == 9,
            ..LayerLine::default()
        }
    }

    fn session(lines: Vec<LayerLine>) -> Session {
        Session { layers: lines, ..Session::default() }
    }

    #[test]
    fn there_is_something_to_compare_from_the_second_layer_on() {
        let mix = line(9, Role::Mix);
        assert!(!has_layers(&session(vec![])));
        assert!(!has_layers(&session(vec![mix.clone()])));
        assert!(!has_layers(&session(vec![line(9, Role::Foley)])));
        assert!(!has_layers(&session(vec![mix.clone(), line(1, Role::Mix)])), "two mixes have no shares");
        assert!(has_layers(&session(vec![mix.clone(), line(1, Role::Foley)])));
        assert!(has_layers(&session(vec![line(9, Role::Foley), line(1, Role::Mix)])));
    }

    #[test]
    fn the_own_name_is_the_one_that_others_see_but_for_a_change_under_way() {
        let own = |name: &str| {
            let mut own = line(9, Role::Foley);
            own.identity.name = name.to_owned();
            session(vec![line(1, Role::Mix), own])
        };
        assert_eq!(own_name("", &own("Layer 2")), "Layer 2");
        assert_eq!(own_name(" Boom ", &own("Boom (2)")), "Boom (2)");
        assert_eq!(own_name("Boom", &own("Boom")), "Boom");
        assert_eq!(own_name("Bell", &own("Bell tower")), "Bell", "it was renamed just now");
        assert_eq!(own_name("Boom", &Session::default()), "Boom");
        assert_eq!(own_name("", &Session::default()), "Unnamed layer");
    }
}
